//! SHA-256 digests, by which the manifest names every file read and written (FIPS 180-4).
//!
//! A reader would question why it is `ring` that computes them: every byte in and out goes through here, and on processors
//! without instructions for it `ring` takes little more than half the time of the plain code in `sha2`, which the tests hold it against.

use ring::digest::{Context, SHA256};

/// A digest that grows.
#[derive(Clone)]
pub struct Digest(Context);

impl Default for Digest {
    fn default() -> Digest {
        Digest(Context::new(&SHA256))
    }
}

impl Digest {
    /// Takes in the next bytes.
    pub fn update(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The digest of all bytes so far, lower-case hexadecimal.
    pub fn hex(self) -> String {
        hex(self.0.finish().as_ref())
    }
}

/// The digest of bytes, lower-case hexadecimal.
pub fn hex_of(bytes: &[u8]) -> String {
    let mut digest = Digest::default();
    digest.update(bytes);
    digest.hex()
}

/// The first two numbers of a text's digest, little-endian: a seed and a stream that cannot be guessed without the text.
pub fn two_numbers(text: &str) -> Option<(u64, u64)> {
    let digest = ring::digest::digest(&SHA256, text.as_bytes());
    let (first, rest) = digest.as_ref().split_first_chunk::<8>()?;
    let (second, _) = rest.split_first_chunk::<8>()?;
    Some((u64::from_le_bytes(*first), u64::from_le_bytes(*second)))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digests_are_the_published_ones() {
        // NIST, Cryptographic Standards and Guidelines, example values of SHA-256 (SHA256.pdf): one block and two.
        assert_eq!(hex_of(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        let two = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
        assert_eq!(hex_of(two.as_bytes()), "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
        let mut parts = Digest::default();
        two.as_bytes().chunks(5).for_each(|part| parts.update(part));
        assert_eq!(parts.hex(), hex_of(two.as_bytes()));
    }

    proptest::proptest! {
        #[test]
        fn another_program_says_the_same(bytes: Vec<u8>) {
            use sha2::Digest as _;
            proptest::prop_assert_eq!(hex_of(&bytes), hex(&sha2::Sha256::digest(&bytes)));
        }
    }
}
