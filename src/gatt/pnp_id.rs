//! PnP ID (0x2A50): which product a device is, never which specimen of it.

use super::octets::{DecodeError, Octets, Watch};

/// The numbers of a product: vendor, product and version.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct PnpId {
    /// The organisation that assigned the vendor number: 1 the Bluetooth SIG, 2 the USB Implementer's Forum,
    /// others reserved.
    pub vendor_source: u8,
    /// The vendor's number, in the list of the `vendor_source`.
    pub vendor: u16,
    /// The vendor's number for the product.
    pub product: u16,
    /// The product's version, as a number.
    pub version: u16,
}

impl PnpId {
    /// Decodes a PnP ID (0x2A50). Trailing octets are ignored. The error is `Truncated` below 7 octets.
    pub fn decode(value: &[u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'_, W>) -> Result<Self, DecodeError> {
        let word = |n| format!("{n:#06x}");
        Ok(Self {
            vendor_source: octets.u8("vendor source", |source| vendor_source_name(source).to_owned())?,
            vendor: octets.u16("vendor", word)?,
            product: octets.u16("product", word)?,
            version: octets.u16("version", word)?,
        })
    }

    /// The octets that go on the air.
    pub const fn encode(self) -> [u8; 7] {
        let [v0, v1] = self.vendor.to_le_bytes();
        let [p0, p1] = self.product.to_le_bytes();
        let [n0, n1] = self.version.to_le_bytes();
        [self.vendor_source, v0, v1, p0, p1, n0, n1]
    }

    /// The name of the organisation that assigned the vendor number; `reserved` where it is not defined.
    pub const fn vendor_source_name(self) -> &'static str {
        vendor_source_name(self.vendor_source)
    }
}

const fn vendor_source_name(source: u8) -> &'static str {
    match source {
        1 => "Bluetooth SIG",
        2 => "USB Implementer's Forum",
        _ => "reserved",
    }
}
