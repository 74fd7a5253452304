//! The code in a picture: a photograph of a badge, or a page of print.

use std::fs;
use std::path::Path;

use anyhow::{Context as _, ensure};
use image::{DynamicImage, GrayImage, ImageReader, Limits};
use rxing::BarcodeFormat;
use rxing::helpers::detect_in_luma;
use sellion_badge::Read;

/// The longest side in pixels that is looked at as it is: a larger picture is made smaller first, and looked at whole
/// only where that shows nothing.
const SIDE: u32 = 1_600;
/// A picture as large as this is no photograph of a badge.
const SIDE_MAX: u32 = 20_000;
const BYTES_MAX: u64 = 64 << 20;

/// What the code in a picture says.
///
/// # Errors
/// The file is no picture that can be read, or no code is found in it.
pub fn read(path: &Path) -> anyhow::Result<Read> {
    let shown = path.display();
    let size = fs::metadata(path).with_context(|| format!("cannot read {shown}"))?.len();
    ensure!(size <= BYTES_MAX, "{shown} is larger than any photograph of a badge");
    let mut reader = ImageReader::open(path).with_context(|| format!("cannot read {shown}"))?;
    let mut limits = Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(SIDE_MAX), Some(SIDE_MAX));
    reader.limits(limits);
    let reader = reader.with_guessed_format().with_context(|| format!("cannot read {shown}"))?;
    let picture = reader.decode().with_context(|| format!("{shown} is no PNG or JPEG"))?;
    let found = code_in(&picture);
    let text = found.with_context(|| {
        format!("no code is found in {shown}: hold it closer and still, or type the serial")
    })?;
    Ok(Read::code(&text))
}

fn code_in(picture: &DynamicImage) -> Option<String> {
    let whole = picture.to_luma8();
    let large = whole.width().max(whole.height()) > SIDE;
    let smaller = large.then(|| picture.thumbnail(SIDE, SIDE).to_luma8());
    smaller.into_iter().chain([whole]).find_map(detect)
}

fn detect(picture: GrayImage) -> Option<String> {
    let (width, height) = picture.dimensions();
    let found = detect_in_luma(picture.into_raw(), width, height, Some(BarcodeFormat::QR_CODE)).ok()?;
    Some(found.getText().to_owned())
}
