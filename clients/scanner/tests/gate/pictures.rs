//! Pictures of badges: the code is read as a camera shows it, tilted, small, grey and grainy.

use image::{GrayImage, Luma};
use sellion_badge::Read;
use sellion_badge::base45::ALPHABET;
use sellion_badge::code::PREFIX;
use sellion_badge::qr::{QUIET_ZONE, QrMatrix};
use sellion_gate::picture;

/// Texts as long as those of badges with one to four respirators: versions 11 to 14 at level M (ISO/IEC 18004).
const LENGTHS: [usize; 4] = [340, 380, 440, 520];

fn text(length: usize) -> String {
    let drawn =
        (0..length - PREFIX.len()).map(|place| ALPHABET[(place * 7_919 + place / 45 * 31) % 45] as char);
    format!("{PREFIX}{}", drawn.collect::<String>())
}

/// How the camera saw it.
#[derive(Debug, Clone, Copy)]
struct Seen {
    /// Pixels to a module.
    module: f64,
    degrees: f64,
    dark: u8,
    light: u8,
    grain: u8,
}

const PLAIN: Seen = Seen { module: 5.0, degrees: 0.0, dark: 0, light: 255, grain: 0 };

/// A picture of 900 pixels with the code in its middle.
fn photograph(code: &QrMatrix, seen: Seen) -> GrayImage {
    const SIDE: u32 = 900;
    let (sine, cosine) = seen.degrees.to_radians().sin_cos();
    let half = f64::from(SIDE) / 2.0;
    #[allow(clippy::cast_precision_loss, reason = "a few dozen modules")]
    let (modules, quiet) = (code.width() as f64, QUIET_ZONE as f64);
    GrayImage::from_fn(SIDE, SIDE, |x, y| {
        let (x, y) = (f64::from(x) - half, f64::from(y) - half);
        let column = (x * cosine + y * sine) / seen.module + modules / 2.0;
        let row = (y * cosine - x * sine) / seen.module + modules / 2.0;
        let on_paper = [column, row].iter().all(|place| (-quiet..modules + quiet).contains(place));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place within the code")]
        let dark = column >= 0.0 && row >= 0.0 && code.is_dark(column as usize, row as usize);
        let shade = if dark { seen.dark } else { seen.light };
        let shade = if on_paper { shade } else { seen.light / 2 + seen.dark / 2 };
        // The same grain every time.
        let grain = ((x * 12.9898 + y * 78.233).sin() * 43_758.545).fract() * f64::from(seen.grain);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a shade of grey")]
        let shade = (f64::from(shade) + grain).clamp(0.0, 255.0) as u8;
        Luma([shade])
    })
}

#[test]
fn a_badge_is_read_from_a_picture_however_it_is_held() {
    let folder = tempfile::tempdir().unwrap();
    let views = [
        PLAIN,
        Seen { degrees: 90.0, ..PLAIN },
        Seen { degrees: 20.0, ..PLAIN },
        Seen { degrees: 187.0, module: 6.5, ..PLAIN },
        Seen { module: 3.0, ..PLAIN },
        Seen { dark: 90, light: 160, ..PLAIN },
        Seen { grain: 60, ..PLAIN },
        Seen { degrees: -12.0, dark: 60, light: 190, grain: 25, module: 5.5 },
    ];
    for length in LENGTHS {
        let text = text(length);
        let code = QrMatrix::encode(&text).unwrap();
        for (number, seen) in views.into_iter().enumerate() {
            let kind = if number % 3 == 1 { "jpg" } else { "png" };
            let file = folder.path().join(format!("{length}-{number}.{kind}"));
            photograph(&code, seen).save(&file).unwrap();
            let read = picture::read(&file).unwrap_or_else(|error| panic!("{length} {seen:?}: {error}"));
            assert_eq!(read, Read::code(&text), "version {} {seen:?}", code.version());
        }
    }
}

#[test]
fn a_code_in_a_large_picture_is_found() {
    let text = text(340);
    let code = photograph(&QrMatrix::encode(&text).unwrap(), PLAIN);
    let mut page = GrayImage::from_pixel(3_000, 4_000, Luma([255]));
    image::imageops::overlay(&mut page, &code, 1_700, 2_300);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page.png");
    page.save(&file).unwrap();
    assert_eq!(picture::read(&file).unwrap(), Read::code(&text));
}

#[test]
fn what_is_no_picture_of_a_code_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let told = |name: &str, bytes: &[u8]| {
        let file = folder.path().join(name);
        std::fs::write(&file, bytes).unwrap();
        format!("{:#}", picture::read(&file).unwrap_err())
    };
    assert!(told("text.png", b"hello").contains("no PNG or JPEG"));
    assert!(told("empty.jpg", b"").contains("no PNG or JPEG"));
    let blank = folder.path().join("blank.png");
    GrayImage::from_pixel(200, 200, Luma([200])).save(&blank).unwrap();
    assert!(format!("{:#}", picture::read(&blank).unwrap_err()).contains("type the serial"));
    assert!(
        format!("{:#}", picture::read(&folder.path().join("none.png")).unwrap_err()).contains("cannot read")
    );
    let cut = std::fs::read(&blank).unwrap();
    assert!(told("cut.png", &cut[..cut.len() / 2]).contains("no PNG or JPEG"));
}
