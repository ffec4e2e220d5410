//! SMART Backend Services against a server that verifies each assertion with jose. Keys are made by openssl.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, listing, once};
use crate::harness::made::Made;
use serde_json::{Value, json};
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

const CANNOT_CREATE: i32 = 73;
const NO_PERMISSION: i32 = 77;
const CONFIG: i32 = 78;

/// A private key as PEM, and as a JSON Web Key by node.
struct Keys {
    pem: String,
    private: Value,
    public: Value,
}

fn keys(algorithm: &str) -> Keys {
    let kind: &[&str] = match algorithm {
        "ES384" => &["-algorithm", "EC", "-pkeyopt", "ec_paramgen_curve:P-384"],
        _ => &["-algorithm", "RSA", "-pkeyopt", "rsa_keygen_bits:2048"],
    };
    let made = Command::new("openssl")
        .arg("genpkey")
        .args(kind)
        .output()
        .unwrap();
    assert!(made.status.success(), "{made:?}");
    let pem = String::from_utf8(made.stdout).unwrap();
    let script = "const c = require('crypto'), k = c.createPrivateKey(process.argv[1]);
        console.log(JSON.stringify([k.export({format: 'jwk'}), c.createPublicKey(k).export({format: 'jwk'})]))";
    let written = Command::new("node")
        .args(["-e", script, "--", &pem])
        .output()
        .unwrap();
    let [private, mut public]: [Value; 2] = serde_json::from_slice(&written.stdout).unwrap();
    public["kid"] = json!("key-1");
    public["alg"] = json!(algorithm);
    Keys { pem, private, public }
}

fn clinic(public: &Value, more: &Value) -> Option<Clinic> {
    let mut options =
        json!({"auth": "smart", "client": "gateway-1", "jwks": {"keys": [public]}, "lasts": 300});
    options
        .as_object_mut()
        .unwrap()
        .extend(more.as_object().unwrap().clone());
    Clinic::with(&options)
}

fn home(clinic: &Clinic, key: &str, more: &str) -> Made {
    let made = Made::of(&few());
    let file = made.home.file(".config/quietcuff/key", key);
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
    choose(
        &made.home,
        &clinic.url(),
        &format!("auth = \"smart\"\nclient-id = \"gateway-1\"\nkey-file = \"key\"\n{more}"),
    );
    made
}

#[test]
fn both_algorithms_and_both_forms_of_a_key_are_accepted() {
    for algorithm in ["ES384", "RS384"] {
        let keys = keys(algorithm);
        let Some(clinic) = clinic(&keys.public, &json!({})) else {
            return;
        };
        let made = home(
            &clinic,
            &keys.pem,
            &format!("key-id = \"key-1\"\nalgorithm = \"{algorithm}\""),
        );
        once(&made.home).good();
        assert_eq!(held(&clinic), exported_readings(&made));
        assert_eq!(
            (&clinic.asked()["tokens"], &clinic.asked()["refused"]),
            (&1.into(), &0.into())
        );

        // As a JSON Web Key, which carries its id.
        clinic.reset();
        let mut private = keys.private.clone();
        private["kid"] = json!("key-1");
        let made = home(&clinic, &private.to_string(), "");
        once(&made.home).good();
        assert_eq!(held(&clinic), exported_readings(&made));
    }
}

#[test]
fn a_key_that_the_clinic_does_not_know_is_refused_and_said() {
    let keys = [keys("ES384"), keys("ES384")];
    let Some(clinic) = clinic(&keys[0].public, &json!({})) else {
        return;
    };
    for (key, kid) in [(&keys[0], "key-2"), (&keys[1], "key-1")] {
        let made = home(&clinic, &key.pem, &format!("key-id = \"{kid}\""));
        once(&made.home).failed(NO_PERMISSION, &["401", "invalid_client"]);
        assert_eq!(listing(&made.home)["sent"], 0);
    }
    assert_eq!(
        (&clinic.asked()["requests"], &clinic.asked()["refused"]),
        (&0.into(), &2.into())
    );
    let made = home(&clinic, &keys[0].pem, "key-id = \"key-1\"\nalgorithm = \"RS384\"");
    once(&made.home).failed(CONFIG, &["algorithm"]);
    let made = home(&clinic, &keys[0].pem, "");
    once(&made.home).failed(CONFIG, &["clinic.key-id"]);
}

/// The key that `deliver key` makes and the set that it prints belong together: openssl reads the one, jose verifies
/// with the other, and the file is its owner's alone and stays as it is.
#[test]
fn a_key_of_our_own_making_is_accepted() {
    let made = Made::of(&few());
    let file = made.home.path(".config/quietcuff/own-key");
    let path = file.to_str().unwrap();
    std::fs::create_dir_all(file.parent().unwrap()).unwrap();
    let told = made.home.run(&["deliver", "key", path]);
    assert_eq!(told.code, 0, "{told:?}");
    let set: Value = serde_json::from_str(&told.out).unwrap();
    let key_id = set["keys"][0]["kid"].as_str().unwrap();
    assert!(
        told.err.contains(key_id) && !told.out.contains("\"d\""),
        "{told:?}"
    );
    let pem = std::fs::read_to_string(&file).unwrap();
    assert!(!told.out.contains(&pem) && !told.err.contains(&pem));
    assert_eq!(
        std::fs::metadata(&file).unwrap().permissions().mode() & 0o777,
        0o600
    );
    let seen = Command::new("openssl")
        .args(["pkey", "-noout", "-check", "-text", "-in", path])
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&seen.stdout).into_owned();
    assert!(seen.status.success() && text.contains("Key is valid"), "{seen:?}");
    assert!(text.contains("secp384r1"), "{text}");

    // Never overwritten, by whatever name; its public set is to be had again.
    let again = made.home.run(&["deliver", "key", path]);
    assert_eq!(again.code, CANNOT_CREATE, "{again:?}");
    assert!(again.err.contains("never overwritten"), "{again:?}");
    let link = file.with_file_name("link");
    std::os::unix::fs::symlink("nowhere", &link).unwrap();
    let linked = made.home.run(&["deliver", "key", link.to_str().unwrap()]);
    assert_eq!(linked.code, CANNOT_CREATE, "{linked:?}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), pem);
    let public = made.home.run(&["deliver", "key", "--public", path]);
    assert_eq!((public.code, &public.out), (0, &told.out), "{public:?}");

    let Some(clinic) =
        Clinic::with(&json!({"auth": "smart", "client": "gateway-1", "jwks": set, "lasts": 300}))
    else {
        return;
    };
    let more = "auth = \"smart\"\nclient-id = \"gateway-1\"\nkey-file = \"own-key\"\n";
    choose(&made.home, &clinic.url(), &format!("{more}key-id = \"{key_id}\""));
    once(&made.home).good();
    assert_eq!(held(&clinic), exported_readings(&made));
    assert_eq!(clinic.asked()["refused"], 0);
}

/// The public set of keys that others made is what node makes of them.
#[test]
fn the_public_set_of_any_key_is_what_another_parser_has() {
    let made = Made::of(&few());
    for algorithm in ["ES384", "RS384"] {
        let keys = keys(algorithm);
        let mut private = keys.private.clone();
        private["kid"] = json!("key-1");
        for key in [keys.pem, private.to_string()] {
            let is_pem = key.starts_with('-');
            let file = made.home.file("key", &key);
            std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
            let told = made.home.run(&["deliver", "key", "--public", &file]);
            assert_eq!(told.code, 0, "{told:?}");
            let mut shown: Value = serde_json::from_str(&told.out).unwrap();
            let shown = shown["keys"][0].as_object_mut().unwrap();
            assert_eq!(shown.remove("use"), Some(json!("sig")));
            if is_pem {
                shown.insert("kid".into(), json!("key-1"));
            }
            assert_eq!(json!(shown), keys.public, "{algorithm}");
        }
    }
}

/// The server says that a token lasts, and does not take it: one new token is asked for, and no more.
#[test]
fn a_token_that_has_ended_is_renewed_once() {
    let keys = keys("ES384");
    let Some(clinic) = clinic(&keys.public, &json!({"lasts": 0, "says": 300})) else {
        return;
    };
    let made = home(&clinic, &keys.pem, "key-id = \"key-1\"");
    once(&made.home).failed(NO_PERMISSION, &["401"]);
    assert_eq!(
        (&clinic.asked()["tokens"], &clinic.asked()["requests"]),
        (&2.into(), &2.into())
    );
}

#[test]
fn with_a_new_token_everything_arrives() {
    let keys = keys("RS384");
    let Some(clinic) = clinic(&keys.public, &json!({"forgets": true})) else {
        return;
    };
    let made = home(&clinic, &keys.pem, "key-id = \"key-1\"");
    let ran = made.home.run(&["deliver", "--once", "-vv", "--log-json"]);
    assert_eq!(ran.code, 0, "{ran:?}");
    assert_eq!(clinic.asked()["tokens"], 2);
    assert_eq!(held(&clinic), exported_readings(&made));
    // Neither the key nor a token nor an assertion is in what was said and kept.
    let ran = [
        ran,
        made.home.run(&["deliver", "--dry-run", "-vv"]),
        made.home.run(&["deliver", "list", "--json"]),
    ];
    for secret in keys
        .pem
        .lines()
        .filter(|line| line.len() > 20)
        .chain(["access-", "eyJ"])
    {
        crate::delivery::secrets::keeps(&made, secret, &ran);
    }
}
