//! The codes of others that are written, each with where it comes from. None is invented; what has no code is
//! said in words.
//!
//! LOINC comes first in every list, so that the list without device codes is its beginning.

use super::resource::{Coding, Concept};
use crate::export::said;
use crate::household::{Arm, Site};
use crate::monitoring::worn::Worn;

const fn loinc(code: &'static str, display: &'static str) -> Coding {
    Coding {
        system: "http://loinc.org",
        code,
        display,
    }
}

/// ISO/IEEE 11073-10101, the nomenclature that the Bluetooth profile is a form of.
const fn mdc(code: &'static str, display: &'static str) -> Coding {
    Coding {
        system: "urn:iso:std:iso:11073:10101",
        code,
        display,
    }
}

const fn snomed(code: &'static str, display: &'static str) -> Coding {
    Coding {
        system: "http://snomed.info/sct",
        code,
        display,
    }
}

/// The single bits of the status (HL7 Personal Health Device guide 2.0.0, page on BITs; the system's address
/// was another one in 1.1.0).
const fn bit(code: &'static str, display: &'static str) -> Coding {
    Coding {
        system: "http://terminology.hl7.org/CodeSystem/ASN1ToHL7",
        code,
        display,
    }
}

/// The places on a body of HL7 version 2 (table 0163), which need no licence.
const fn place(code: &'static str, display: &'static str) -> Coding {
    Coding {
        system: "http://terminology.hl7.org/CodeSystem/v2-0163",
        code,
        display,
    }
}

/// How somebody took part in what a Provenance tells of (R4, value set provenance-agent-type).
const fn participant(code: &'static str, display: &'static str) -> Coding {
    Coding {
        system: "http://terminology.hl7.org/CodeSystem/provenance-participant-type",
        code,
        display,
    }
}

/// A LOINC code with its counterpart among the device codes, and the words for both.
#[derive(Clone, Copy, Debug)]
pub(super) struct Both {
    codes: [Coding; 2],
    text: &'static str,
}

impl Both {
    pub(super) const fn concept(&'static self, device_codes: bool) -> Concept {
        let [loinc, _] = &self.codes;
        Concept {
            coding: if device_codes {
                &self.codes
            } else {
                std::slice::from_ref(loinc)
            },
            text: Some(self.text),
        }
    }
}

macro_rules! both {
    ($($name:ident $loinc:literal $display:literal $mdc:literal $reference:literal $text:literal;)*) => {
        $(pub(super) static $name: Both =
            Both { codes: [loinc($loinc, $display), mdc($mdc, $reference)], text: $text };)*
    };
}

// R4 profile `bp` and `heartrate` (LOINC); HL7 Personal Health Device guide (MDC).
both! {
    PANEL "85354-9" "Blood pressure panel with all children optional" "150020" "MDC_PRESS_BLD_NONINV" "Blood pressure";
    SYSTOLIC "8480-6" "Systolic blood pressure" "150021" "MDC_PRESS_BLD_NONINV_SYS" "Systolic";
    DIASTOLIC "8462-4" "Diastolic blood pressure" "150022" "MDC_PRESS_BLD_NONINV_DIA" "Diastolic";
    MEAN "8478-0" "Mean blood pressure" "150023" "MDC_PRESS_BLD_NONINV_MEAN" "Mean arterial pressure";
    PULSE "8867-4" "Heart rate" "149546" "MDC_PULS_RATE_NON_INV" "Pulse";
}

macro_rules! concepts {
    ($($name:ident $text:expr, [$($coding:expr),*];)*) => {
        $(pub(super) const $name: Concept = Concept { coding: &[$($coding),*], text: $text };)*
    };
}

const VITAL_SIGNS_CATEGORY: Coding = Coding {
    system: "http://terminology.hl7.org/CodeSystem/observation-category",
    code: "vital-signs",
    display: "Vital Signs",
};

const PHD_CATEGORY: Coding = Coding {
    system: "http://hl7.org/fhir/uv/phd/CodeSystem/PhdObservationCategories",
    code: "phd",
    display: "PHD generated Observation",
};

concepts! {
    VITAL_SIGNS None, [VITAL_SIGNS_CATEGORY];
    PHD None, [PHD_CATEGORY];
    // HL7 CardX Hypertension Management 1.0.0, profile average-smbp.
    AVERAGE Some("Average home blood pressure"),
        [loinc("96607-7", "Blood pressure panel mean systolic and mean diastolic")];
    AVERAGE_SYSTOLIC Some("Average systolic"), [loinc("96608-5", "Systolic blood pressure mean")];
    AVERAGE_DIASTOLIC Some("Average diastolic"), [loinc("96609-3", "Diastolic blood pressure mean")];
    // US Core 9.0.0, average blood pressure.
    COUNT Some("Number of measurements"), [snomed("246432004", "Number of occurrences")];
    STATUS Some("What the monitor reported of the measurement"),
        [mdc("8410608", "MDC_BLOOD_PRESSURE_MEASUREMENT_STATUS")];
    BODY_MOVEMENT Some("Body movement"), [bit("8410608.0", "body-movement")];
    CUFF_TOO_LOOSE Some("Cuff too loose"), [bit("8410608.1", "cuff-too-loose")];
    IRREGULAR_PULSE Some("Irregular pulse"), [bit("8410608.2", "irregular-pulse")];
    PULSE_ABOVE_RANGE Some("Pulse above the monitor's range"), [bit("8410608.3", "pulse-over-range-limit")];
    PULSE_BELOW_RANGE Some("Pulse below the monitor's range"), [bit("8410608.4", "pulse-under-range-limit")];
    IMPROPER_POSITION Some("Improper position"), [bit("8410608.5", "improper-body-position")];
    // HL7 cimi-vital-signs 1.0.0, MeasurementSettingExt.
    HOME Some("Home"), [snomed("264362003", "Home")];
    // In words: R4's examples of methods are SNOMED's, and none of them says where.
    METHOD Some(said::AT_HOME), [];
    RECORD_NUMBER None, [Coding {
        system: "http://terminology.hl7.org/CodeSystem/v2-0203",
        code: "MR",
        display: "Medical record number",
    }];
    // What R4 demands of a Consent: its scope, its category, and the rule that it is made under, for which R4's list has no
    // code of a household's own; OPTIN is that of R4's examples.
    PRIVACY None, [Coding {
        system: "http://terminology.hl7.org/CodeSystem/consentscope",
        code: "patient-privacy",
        display: "Privacy Consent",
    }];
    RELEASE None, [loinc("64292-6", "Release of information consent")];
    OPT_IN Some("The household's own word: which of this person's home blood pressure measurements may go to this clinic, \
                 by the day on which they were taken. Without dataPeriod all of them may."), [Coding {
        system: "http://terminology.hl7.org/CodeSystem/v3-ActCode",
        code: "OPTIN",
        display: "opt-in",
    }];
    ASSEMBLER None, [participant("assembler", "Assembler")];
    INFORMANT None, [participant("informant", "Informant")];
    SYSTEM_ID None, [Coding {
        system: "http://terminology.hl7.org/CodeSystem/ContinuaDeviceIdentifiers",
        code: "SYSID",
        display: "IEEE 11073 System Identifier",
    }];
    BLOOD_PRESSURE_MONITOR None, [mdc("528391", "MDC_DEV_SPEC_PROFILE_BP")];
}

/// The types of the two devices: with device codes, with SNOMED codes, with both, with neither.
pub(super) const fn device_type(gateway: bool, device_codes: bool, snomed_codes: bool) -> Concept {
    const MONITOR_CODES: &[Coding] = &[
        mdc("65573", "MDC_MOC_VMS_MDS_SIMP"),
        // The type that HL7's vital signs guide gives its example of such a monitor.
        snomed(
            "466086009",
            "Automatic-inflation electronic sphygmomanometer, portable, arm/wrist",
        ),
    ];
    const GATEWAY_CODES: &[Coding] = &[mdc("531981", "MDC_MOC_VMS_MDS_AHD")];
    let (codes, text) = if gateway {
        (GATEWAY_CODES, "Gateway for personal health devices")
    } else {
        (MONITOR_CODES, "Blood pressure monitor for use at home")
    };
    let (device, others) = codes.split_at(1);
    let coding: &[Coding] = match (device_codes, snomed_codes) {
        (true, true) => codes,
        (true, false) => device,
        (false, true) => others,
        (false, false) => &[],
    };
    Concept {
        coding,
        text: Some(text),
    }
}

/// Where the cuff was; `None` where nobody said on which arm. Table 0163 has no wrist. SNOMED's code of the right arm is that
/// of R4's example of a blood pressure, the other its counterpart, from memory.
pub(super) fn body_site(worn: &Worn, snomed_codes: bool) -> Option<Concept> {
    const LEFT_UPPER: &[Coding] = &[
        place("LUA", "Left Upper Arm"),
        snomed("368208006", "Left upper arm structure"),
    ];
    const RIGHT_UPPER: &[Coding] = &[
        place("RUA", "Right Upper Arm"),
        snomed("368209003", "Right upper arm structure"),
    ];
    const LEFT: &[Coding] = &[place("LA", "Left Arm")];
    const RIGHT: &[Coding] = &[place("RA", "Right Arm")];
    let codes = match (worn.arm?, worn.site) {
        (Arm::Left, Some(Site::UpperArm)) => LEFT_UPPER,
        (Arm::Right, Some(Site::UpperArm)) => RIGHT_UPPER,
        (_, Some(Site::Wrist)) => &[],
        (Arm::Left, None) => LEFT,
        (Arm::Right, None) => RIGHT,
    };
    let free = codes.get(..1).filter(|_| !snomed_codes);
    Some(Concept {
        coding: free.unwrap_or(codes),
        text: said::of_site(worn),
    })
}

/// The addresses of the FHIR extensions that the resources carry.
pub(super) const GATEWAY_DEVICE: &str = "http://hl7.org/fhir/StructureDefinition/observation-gatewayDevice";
pub(super) const TRANSLATION: &str = "http://hl7.org/fhir/StructureDefinition/iso21090-PQ-translation";
pub(super) const MEASUREMENT_SETTING: &str =
    "http://hl7.org/fhir/us/vitals/StructureDefinition/MeasurementSettingExt";
pub(super) const NUMBER_OF_MEASUREMENTS: &str =
    "http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/NumberOfMeasurementsExt";

/// IEEE EUI-64 (HL7 Personal Health Device guide).
pub(super) const EUI_64: &str = "urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680";

pub(super) const UCUM: &str = "http://unitsofmeasure.org";

/// Profiles, the core's first.
pub(super) const PANEL_PROFILES: [&str; 2] = [
    "http://hl7.org/fhir/StructureDefinition/bp",
    "http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/self-measured-bp",
];
pub(super) const PULSE_PROFILES: [&str; 2] = [
    "http://hl7.org/fhir/StructureDefinition/heartrate",
    "http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/smbp-associated-heart-rate",
];
pub(super) const AVERAGE_PROFILE: [&str; 1] =
    ["http://hl7.org/fhir/uv/cardx-htn-mng/StructureDefinition/average-smbp"];
