//! Invented names, in several scripts, so that rosters and badges meet letters of every kind.

/// Given and family names that belong together by script. None is meant to be anybody's.
pub(super) const FAMILIES: &[(&[&str], &[&str])] = &[
    (
        &["Ines", "Tomas", "Maelle", "Oriel", "Perrin", "Sunniva", "Caspian", "Liora", "Evander", "Junia"],
        &[
            "Valdrun",
            "Okerleigh",
            "Marchwood",
            "Tannery-Holt",
            "Brisco",
            "Fenwickstow",
            "Ashgrove",
            "Quillon",
        ],
    ),
    (
        &["Zoë", "Ömer", "Łucja", "Þóra", "Željko", "Søren", "Aşkın", "Ñusta"],
        &["Müllerström", "Çelikbaş", "Wiśnioch", "Ægirsdóttir", "Črnojević-Bük", "Ångfält"],
    ),
    (&["Thuỳ Dương", "Quốc Bảo", "Mỹ Hạnh"], &["Nguyễn Phước", "Trịnh Đặng", "Vũ Hoàng"]),
    (&["ليلى", "سامر", "نور"], &["الهادي", "المنصوري", "بركات"]),
    (&["さくら", "健一", "ゆい"], &["青葉", "鶴見沢", "小鳥居"]),
    (&["Елена", "Тарас", "Милица"], &["Ветрова", "Гайворонюк", "Дубровић"]),
    (&["Ἑλένη", "Νίκη", "Θάλεια"], &["Αμπελίδου", "Καρυάτη"]),
];

/// How often each entry of [`FAMILIES`] is drawn, in parts of a hundred.
pub(super) const SHARES: &[u32] = &[52, 14, 8, 8, 8, 6, 4];

/// A name as long as they come, with marks above and below its letters; it must print whole.
pub(super) const LONGEST: (&str, &str) =
    ("Maximiliána-Bërnadètte Ōphélïa", "Wólfgängsdóttir-Ścibór-Vẫnhōútenǵaard");

/// The wards, and which door each one's people use.
pub(super) const UNITS: &[&str] = &["Heron", "Plover", "Emergency", "Theatres", "Radiology", "Night relief"];
