//! The JSON API: requests in, clinic functions, responses out.
