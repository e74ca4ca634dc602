//! A FLAC file without compression (verbatim subframes), written from the format's specification, RFC 9639.

/// A file of 16- or 24-bit `samples`, interleaved.
pub fn file(samples: &[i32], channels: usize, bits: u8, sample_rate_hz: u32) -> Vec<u8> {
    mutant_file(samples, channels, bits, sample_rate_hz, &[])
}

/// The same with bytes of every frame changed, under checksums that fit them.
pub fn mutant_file(
    samples: &[i32],
    channels: usize,
    bits: u8,
    sample_rate_hz: u32,
    changes: &[(usize, u8)],
) -> Vec<u8> {
    const BLOCK: usize = 1024;
    let frames = samples.len() / channels;
    let mut file = b"fLaC".to_vec();
    // The last (and only) metadata block: STREAMINFO, 34 bytes.
    file.extend([0x80, 0, 0, 34]);
    file.extend((BLOCK as u16).to_be_bytes());
    file.extend((BLOCK as u16).to_be_bytes());
    file.extend([0; 6]);
    let packed = u64::from(sample_rate_hz) << 44
        | (channels as u64 - 1) << 41
        | (u64::from(bits) - 1) << 36
        | frames as u64;
    file.extend(packed.to_be_bytes());
    file.extend([0; 16]);
    for (number, block) in samples.chunks(BLOCK * channels).enumerate() {
        file.extend(frame(block, channels, bits, number as u64, changes));
    }
    file
}

fn frame(
    block: &[i32],
    channels: usize,
    bits: u8,
    number: u64,
    changes: &[(usize, u8)],
) -> Vec<u8> {
    let sample_size = match bits {
        16 => 0b100,
        24 => 0b110,
        _ => panic!("16 or 24 bits"),
    };
    let mut frame = vec![
        0xff,
        0xf8,
        0b0111_0000,
        (channels as u8 - 1) << 4 | sample_size << 1,
    ];
    frame.extend(utf8_number(number));
    frame.extend(((block.len() / channels - 1) as u16).to_be_bytes());
    frame.push(0);
    let header_end = frame.len() - 1;
    for channel in 0..channels {
        frame.push(0b0000_0010);
        for sample in block.iter().skip(channel).step_by(channels) {
            let bytes = sample.to_be_bytes();
            frame.extend(&bytes[4 - usize::from(bits / 8)..]);
        }
    }
    for &(at, byte) in changes {
        if let Some(place) = frame.get_mut(at) {
            *place = byte;
        }
    }
    frame[header_end] = crc(&frame[..header_end], 8, 0x07) as u8;
    let footer = crc(&frame, 16, 0x8005);
    frame.extend(footer.to_be_bytes());
    frame
}

/// The frame number in the manner of UTF-8.
fn utf8_number(number: u64) -> Vec<u8> {
    match number {
        0..0x80 => vec![number as u8],
        0x80..0x800 => vec![0xc0 | (number >> 6) as u8, 0x80 | (number & 0x3f) as u8],
        _ => vec![
            0xe0 | (number >> 12) as u8,
            0x80 | (number >> 6 & 0x3f) as u8,
            0x80 | (number & 0x3f) as u8,
        ],
    }
}

fn crc(bytes: &[u8], width: u32, polynomial: u16) -> u16 {
    let top = 1_u32 << (width - 1);
    let mut crc = 0_u32;
    for &byte in bytes {
        crc ^= u32::from(byte) << (width - 8);
        for _ in 0..8 {
            let carry = crc & top != 0;
            crc = crc << 1 & ((1 << width) - 1);
            if carry {
                crc ^= u32::from(polynomial);
            }
        }
    }
    crc as u16
}
