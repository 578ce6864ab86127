//! A ZIP archive made of parts, without packing them.

/// An archive that packs nothing. Layout: PKWARE's APPNOTE, from memory.
pub fn archive(entries: &[(&str, Vec<u8>)]) -> Vec<u8> {
    let (mut file, mut directory) = (Vec::new(), Vec::new());
    for (name, bytes) in entries {
        let start = file.len() as u32;
        let mut facts = Vec::new();
        facts.extend([20, 0, 0, 0, 0, 0, 0, 0, 0x21, 0x58]); // version, flags, stored, a day
        facts.extend(checksum(bytes).to_le_bytes());
        facts.extend((bytes.len() as u32).to_le_bytes());
        facts.extend((bytes.len() as u32).to_le_bytes());
        facts.extend((name.len() as u16).to_le_bytes());
        facts.extend([0, 0]);
        file.extend(b"PK\x03\x04");
        file.extend(&facts);
        file.extend(name.as_bytes());
        file.extend(bytes);
        directory.extend(b"PK\x01\x02\x14\x00");
        directory.extend(&facts);
        directory.extend([0; 10]);
        directory.extend(start.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let (start, length, count) = (file.len() as u32, directory.len() as u32, entries.len() as u16);
    file.extend(directory);
    file.extend(b"PK\x05\x06\0\0\0\0");
    file.extend([count.to_le_bytes(), count.to_le_bytes()].concat());
    file.extend(length.to_le_bytes());
    file.extend(start.to_le_bytes());
    file.extend([0, 0]);
    file
}

/// CRC-32 as ZIP has it (ISO 3309, reflected).
fn checksum(bytes: &[u8]) -> u32 {
    let step = |sum: u32| if sum & 1 == 1 { sum >> 1 ^ 0xedb8_8320 } else { sum >> 1 };
    !bytes.iter().fold(u32::MAX, |sum, &byte| (0..8).fold(sum ^ u32::from(byte), |sum, _| step(sum)))
}
