//! What a monitor tells of itself.

use super::{Monitor, Site};
use crate::gatt::{Appearance, Characteristic, SystemId, Text};
use std::collections::BTreeMap;

impl Monitor {
    /// What these values of its characteristics tell of it; its address is none of them.
    pub fn told(facts: &BTreeMap<Characteristic, Vec<u8>>) -> Self {
        let text = |characteristic| {
            facts
                .get(&characteristic)
                .and_then(|value| Text::decode(value).ok().map(|text| text.trimmed().to_owned()))
                .filter(|text| !text.is_empty())
        };
        Self {
            name: text(Characteristic::DEVICE_NAME),
            manufacturer: text(Characteristic::MANUFACTURER_NAME),
            model: text(Characteristic::MODEL_NUMBER),
            serial: text(Characteristic::SERIAL_NUMBER),
            system_id: facts
                .get(&Characteristic::SYSTEM_ID)
                .and_then(|value| SystemId::decode(value).ok())
                .filter(|id| id.is_identity())
                .map(|id| id.to_string()),
            site: facts
                .get(&Characteristic::APPEARANCE)
                .and_then(|value| Appearance::decode(value).ok())
                .and_then(site),
            ..Self::default()
        }
    }

    /// The same, and where nothing is known of a matter, what `other` knows.
    #[must_use]
    pub fn filled_by(self, other: Self) -> Self {
        Self {
            address: self.address.or(other.address),
            name: self.name.or(other.name),
            manufacturer: self.manufacturer.or(other.manufacturer),
            model: self.model.or(other.model),
            serial: self.serial.or(other.serial),
            system_id: self.system_id.or(other.system_id),
            site: self.site.or(other.site),
            validated: self.validated.or(other.validated),
            cuff_min_mm: self.cuff_min_mm.or(other.cuff_min_mm),
            cuff_max_mm: self.cuff_max_mm.or(other.cuff_max_mm),
            bought: self.bought.or(other.bought),
        }
    }
}

fn site(appearance: Appearance) -> Option<Site> {
    match appearance {
        Appearance::BLOOD_PRESSURE_ARM => Some(Site::UpperArm),
        Appearance::BLOOD_PRESSURE_WRIST => Some(Site::Wrist),
        _ => None,
    }
}
