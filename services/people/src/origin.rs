//! Where a request comes from, as far as attempts are counted by it.

use std::net::{IpAddr, Ipv6Addr};

use uuid::Uuid;
use wire::ids::PersonId;

/// Where a request comes from: a network, and perhaps a device that its person has used before.
#[derive(Clone, Debug, Default)]
pub struct Origin {
    network: String,
    device: Option<KnownDevice>,
}

/// A device on which a person has signed in before, as its signed token says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KnownDevice {
    /// The device.
    pub id: Uuid,
    /// Who signed in.
    pub person: PersonId,
}

impl Origin {
    /// A request from an address. Of IPv6 the first 64 bits count, since whoever has one such address has all that share
    /// them. `None` where the address is not known.
    #[must_use]
    pub fn of(address: Option<IpAddr>, device: Option<KnownDevice>) -> Self {
        let network = match address.map(|address| address.to_canonical()) {
            Some(IpAddr::V4(address)) => address.to_string(),
            Some(IpAddr::V6(address)) => {
                let [a, b, c, d, ..] = address.segments();
                format!("{}/64", Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0))
            }
            None => String::new(),
        };
        Self { network, device }
    }

    /// The network as text, empty where it is not known.
    #[must_use]
    pub fn network(&self) -> &str {
        &self.network
    }

    /// The device, if it is one of this person's.
    pub(crate) fn device_of(&self, person: Option<PersonId>) -> Option<Uuid> {
        self.device.filter(|device| Some(device.person) == person).map(|device| device.id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_of_one_ipv6_network_of_64_bits_are_one_origin() {
        let network = |text: &str| Origin::of(Some(text.parse().unwrap()), None).network().to_owned();
        assert_eq!(network("2001:db8:1:2:3:4:5:6"), "2001:db8:1:2::/64");
        assert_eq!(network("2001:db8:1:2:ffff::"), network("2001:db8:1:2::1"));
        assert_ne!(network("2001:db8:1:3::1"), network("2001:db8:1:2::1"));
        assert_eq!(network("::ffff:198.51.100.7"), "198.51.100.7");
        assert_ne!(network("198.51.100.7"), network("198.51.100.8"));
    }
}
