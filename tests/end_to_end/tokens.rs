//! Access tokens and API keys that are not what they claim.
