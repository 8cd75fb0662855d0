//! Photographs of a job: pictures in the folder that the job names, by their number.

use super::{Job, Role};
use crate::paper::{Image, ImageKind};
use foldhash::HashMap;
use std::io::Read;

/// Largest file that is placed, in bytes.
const LARGEST: u64 = 8_000_000;
/// Most pixels either way.
const WIDEST: usize = 12_000;

impl Job {
    /// Reads photographs by their numbers, as `NUMBER.jpg`, `NUMBER.jpeg` or `NUMBER.png` in the folder of the job; each that cannot be
    /// placed with why, in words. Empty where the job names no folder.
    pub fn photographs(&self, numbers: &[String]) -> HashMap<String, Result<Image, String>> {
        let Some((folder, span)) = &self.checked.program.terms.photographs else {
            return HashMap::default();
        };
        let each = numbers.iter();
        each.map(|n| {
            (
                n.clone(),
                self.photograph((folder, self.loaded.sources.name(span.file)), n),
            )
        })
        .collect()
    }

    fn photograph(&self, (folder, from): (&str, &str), number: &str) -> Result<Image, String> {
        if number.contains(['/', '\\']) || number.starts_with('.') {
            return Err("its number cannot be the name of a file".to_owned());
        }
        let mut found = None;
        for ending in ["jpg", "jpeg", "png", "JPG", "JPEG", "PNG"] {
            let path = format!("{}/{number}.{ending}", folder.trim_end_matches('/'));
            let name = self.from.name(&path, from);
            if self.from.stamp(&name).is_some() {
                found = Some(name);
                break;
            }
        }
        let Some(name) = found else {
            return Err(format!("not in the folder {folder}"));
        };
        let mut bytes = Vec::new();
        let opened = self.from.open(&name)?;
        let read = opened.take(LARGEST + 1).read_to_end(&mut bytes);
        read.map_err(|e| format!("cannot be read: {e}"))?;
        let image = image(bytes)?;
        // What is placed is a file of the job, and goes with an issue.
        self.files.read(Role::Photograph, &name, &image.bytes);
        Ok(image)
    }
}

/// A file as a picture.
fn image(bytes: Vec<u8>) -> Result<Image, String> {
    if u64::try_from(bytes.len()).is_ok_and(|n| n > LARGEST) {
        return Err(format!(
            "larger than {} MB: save it smaller",
            LARGEST / 1_000_000
        ));
    }
    let kind = match imagesize::image_type(&bytes) {
        Ok(imagesize::ImageType::Jpeg) => ImageKind::Jpeg,
        Ok(imagesize::ImageType::Png) => ImageKind::Png,
        _ => return Err("neither a JPEG nor a PNG picture".to_owned()),
    };
    let size = imagesize::blob_size(&bytes)
        .map_err(|_| "a picture whose size cannot be read".to_owned())?;
    let pixels = |n: usize| u32::try_from(n).ok().filter(|_| n > 0 && n <= WIDEST);
    match (pixels(size.width), pixels(size.height)) {
        (Some(width), Some(height)) => Ok(Image {
            kind,
            size: (width, height),
            bytes: bytes.into(),
        }),
        _ => Err(format!(
            "{} by {} pixels: at most {WIDEST} either way can be placed",
            size.width, size.height
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The least PNG: its signature and header, RFC 2083 sections 3.1 and 4.1.1.
    fn png(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        bytes.extend(width.to_be_bytes());
        bytes.extend(height.to_be_bytes());
        bytes.extend([8, 2, 0, 0, 0, 0, 0, 0, 0]);
        bytes
    }

    #[test]
    fn pictures_are_bounded_and_known_by_what_they_hold() {
        assert_eq!(
            image(png(30, 20)).map(|i| (i.kind, i.size)),
            Ok((ImageKind::Png, (30, 20)))
        );
        assert!(image(png(0, 20)).is_err());
        assert!(image(png(40_000, 20)).is_err_and(|e| e.contains("12000")));
        assert!(image(b"GIF89a".to_vec()).is_err_and(|e| e.contains("neither")));
        assert!(image(vec![0; 8_000_001]).is_err_and(|e| e.contains("8 MB")));
    }
}
