//! A client's private key: PEM (PKCS #8, or PKCS #1 for RSA) or a JSON Web Key. No error quotes it.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use ring::rand::SystemRandom;
use ring::rsa::{KeyPair as RsaKeyPair, KeyPairComponents, PublicKeyComponents};
use ring::signature::{ECDSA_P384_SHA384_FIXED_SIGNING, EcdsaKeyPair, RSA_PKCS1_SHA384};
use rustls_pki_types::PrivateKeyDer;
use rustls_pki_types::pem::PemObject;
use serde::{Deserialize, Serialize};

/// How assertions are signed; the two that the standard asks of every server.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub enum Algorithm {
    /// ECDSA on P-384 with SHA-384.
    #[serde(rename = "ES384")]
    Es384,
    /// RSA (PKCS #1 v1.5) with SHA-384.
    #[serde(rename = "RS384")]
    Rs384,
}

/// The client's private key.
pub(super) enum Key {
    Es384(EcdsaKeyPair),
    Rs384(RsaKeyPair),
}

/// A private key as a JSON Web Key (RFC 7517, RFC 7518 sections 6.2 and 6.3).
#[derive(Deserialize)]
#[serde(tag = "kty")]
enum Jwk {
    #[serde(rename = "EC")]
    Ec {
        crv: String,
        x: String,
        y: String,
        d: String,
        kid: Option<String>,
    },
    #[serde(rename = "RSA")]
    Rsa {
        n: String,
        e: String,
        d: String,
        p: String,
        q: String,
        dp: String,
        dq: String,
        qi: String,
        kid: Option<String>,
    },
}

impl Key {
    /// What it signs by.
    pub(super) fn algorithm(&self) -> Algorithm {
        match self {
            Self::Es384(_) => Algorithm::Es384,
            Self::Rs384(_) => Algorithm::Rs384,
        }
    }

    /// A signature as JSON Web Signature has it (RFC 7518, sections 3.3 and 3.4).
    pub(super) fn sign(&self, octets: &[u8], random: &SystemRandom) -> Result<Vec<u8>, String> {
        let failed = |_| "the key could not sign".to_owned();
        match self {
            Self::Es384(key) => Ok(key.sign(random, octets).map_err(failed)?.as_ref().to_vec()),
            Self::Rs384(key) => {
                let mut signature = vec![0; key.public().modulus_len()];
                key.sign(&RSA_PKCS1_SHA384, random, octets, &mut signature)
                    .map_err(failed)?;
                Ok(signature)
            }
        }
    }
}

/// A key, and the id that it carries itself.
pub(super) fn read_key(text: &str) -> Result<(Key, Option<String>), String> {
    if text.trim_start().starts_with('{') {
        return read_jwk(text);
    }
    let wrong = "the key is neither a JSON Web Key nor PEM with `BEGIN PRIVATE KEY`";
    match PrivateKeyDer::from_pem_slice(text.as_bytes()).map_err(|_| wrong)? {
        PrivateKeyDer::Pkcs8(der) => {
            let der = der.secret_pkcs8_der();
            EcdsaKeyPair::from_pkcs8(&ECDSA_P384_SHA384_FIXED_SIGNING, der, &SystemRandom::new())
                .map(Key::Es384)
                .or_else(|_| RsaKeyPair::from_pkcs8(der).map(Key::Rs384))
                .map(|key| (key, None))
                .map_err(|_| "the key is for neither ES384 (P-384) nor RS384 (RSA, 2048 bits or more)".into())
        }
        PrivateKeyDer::Pkcs1(der) => RsaKeyPair::from_der(der.secret_pkcs1_der())
            .map(|key| (Key::Rs384(key), None))
            .map_err(|_| "the RSA key cannot be used; it needs 2048 bits or more".into()),
        _ => Err("the key is in an older form; `openssl pkcs8 -topk8 -nocrypt -in KEY -out NEW` brings it into the one that is read".into()),
    }
}

fn read_jwk(text: &str) -> Result<(Key, Option<String>), String> {
    // The parser's own words could quote the key.
    let jwk: Jwk = serde_json::from_str(text)
        .map_err(|_| "the key is no private JSON Web Key (EC or RSA with all of its parts)")?;
    let octets = |part: &str| {
        URL_SAFE_NO_PAD
            .decode(part)
            .map_err(|_| "a part of the key is not base64url")
    };
    match jwk {
        Jwk::Ec { crv, x, y, d, kid } => {
            if crv != "P-384" {
                return Err("ES384 takes a key on the curve P-384".into());
            }
            // Uncompressed, as SEC 1 section 2.3.3 writes it.
            let public = [vec![4], octets(&x)?, octets(&y)?].concat();
            EcdsaKeyPair::from_private_key_and_public_key(
                &ECDSA_P384_SHA384_FIXED_SIGNING,
                &octets(&d)?,
                &public,
                &SystemRandom::new(),
            )
            .map(|key| (Key::Es384(key), kid))
            .map_err(|_| "the parts of the key do not belong together".into())
        }
        Jwk::Rsa {
            n,
            e,
            d,
            p,
            q,
            dp,
            dq,
            qi,
            kid,
        } => {
            let components = KeyPairComponents {
                public_key: PublicKeyComponents {
                    n: octets(&n)?,
                    e: octets(&e)?,
                },
                d: octets(&d)?,
                p: octets(&p)?,
                q: octets(&q)?,
                dP: octets(&dp)?,
                dQ: octets(&dq)?,
                qInv: octets(&qi)?,
            };
            RsaKeyPair::from_components(&components)
                .map(|key| (Key::Rs384(key), kid))
                .map_err(|_| "the parts of the RSA key cannot be used; it needs 2048 bits or more".into())
        }
    }
}
