//! The file of scans: nothing that was shown is lost, and nothing torn is delivered.

use std::fs::{self, File};
use std::io::Write as _;

use sellion_gate::clock::Clock;
use sellion_gate::home::Home;
use sellion_gate::queue::{Line, Queue, Scan, What};
use sellion_rules::gate::Answer;
use uuid::Uuid;

fn home() -> (tempfile::TempDir, Home) {
    let folder = tempfile::tempdir().unwrap();
    let home = Home::open(&folder.path().join("gate")).unwrap();
    (folder, home)
}

fn scan() -> Scan {
    Scan {
        id: Uuid::now_v7(),
        what: What::Serial("7KQ2MXW9RD".to_owned()),
        read_at: Clock::new().read(),
        answer: Answer::Enter,
        known_at: None,
    }
}

fn waiting(queue: &Queue) -> Vec<Uuid> {
    queue.contents().unwrap().waiting.iter().map(|(scan, _)| scan.id).collect()
}

#[test]
fn what_is_settled_waits_no_more() {
    let (_folder, home) = home();
    let queue = Queue::of(&home);
    let scans = [scan(), scan(), scan()];
    for scan in &scans {
        queue.append(&Line::Scan(scan.clone())).unwrap();
    }
    queue.append(&Line::Delivered { id: scans[0].id }).unwrap();
    queue.append(&Line::Refused { id: scans[1].id, code: "id_reused".to_owned() }).unwrap();
    let moment = scans[2].read_at.wall;
    queue.append(&Line::Moment { id: scans[2].id, happened_at: moment }).unwrap();
    let found = Queue::of(&home).contents().unwrap();
    assert_eq!(found.waiting, [(scans[2].clone(), Some(moment))]);
    assert_eq!(found.refused, [(scans[1].id, "id_reused".to_owned())]);
}

#[test]
fn a_line_torn_anywhere_costs_itself_and_no_other() {
    let (_folder, home) = home();
    let queue = Queue::of(&home);
    let (first, torn) = (scan(), scan());
    queue.append(&Line::Scan(first.clone())).unwrap();
    let whole = fs::read(home.path("scans")).unwrap();
    queue.append(&Line::Scan(torn.clone())).unwrap();
    let both = fs::read(home.path("scans")).unwrap();
    for length in whole.len() + 1..both.len() - 1 {
        fs::write(home.path("scans"), &both[..length]).unwrap();
        let next = scan();
        queue.append(&Line::Scan(next.clone())).unwrap();
        assert_eq!(waiting(&queue), [first.id, next.id], "torn after {length} bytes");
        assert_eq!(queue.contents().unwrap().damaged, 1);
    }
}

#[test]
fn a_line_that_was_changed_is_not_delivered() {
    let (_folder, home) = home();
    let queue = Queue::of(&home);
    let (first, second) = (scan(), scan());
    queue.append(&Line::Scan(first.clone())).unwrap();
    queue.append(&Line::Scan(second.clone())).unwrap();
    let text = fs::read_to_string(home.path("scans")).unwrap().replacen("enter", "not_valid", 1);
    fs::write(home.path("scans"), text).unwrap();
    assert_eq!(waiting(&queue), [second.id]);
    assert_eq!(queue.contents().unwrap().damaged, 1);
}

#[test]
fn a_full_disk_is_told() {
    let (_folder, home) = home();
    // Linux: writing to it fails with "no space left on device" (full(4)).
    std::os::unix::fs::symlink("/dev/full", home.path("scans")).unwrap();
    let error = Queue::of(&home).append(&Line::Scan(scan())).unwrap_err();
    assert_eq!(error.kind(), std::io::ErrorKind::StorageFull);
}

#[test]
fn a_long_file_begins_anew_when_nothing_waits_and_keeps_what_was_refused() {
    let (_folder, home) = home();
    let queue = Queue::of(&home);
    let refused = scan();
    queue.append(&Line::Scan(refused.clone())).unwrap();
    queue.append(&Line::Refused { id: refused.id, code: "id_reused".to_owned() }).unwrap();
    File::options().append(true).open(home.path("scans")).unwrap().write_all(b"torn").unwrap();
    for _ in 0..250 {
        let scan = scan();
        queue.note(&Line::Scan(scan.clone())).unwrap();
        queue.note(&Line::Delivered { id: scan.id }).unwrap();
    }
    let last = scan();
    queue.append(&Line::Scan(last.clone())).unwrap();
    queue.tidy().unwrap();
    assert_eq!(waiting(&queue), [last.id]);
    let long = fs::metadata(home.path("scans")).unwrap().len();
    assert!(long > 64 * 1024, "it has to be long: {long}");
    queue.append(&Line::Delivered { id: last.id }).unwrap();
    queue.tidy().unwrap();
    assert!(fs::metadata(home.path("scans")).unwrap().len() < 1_000);
    assert_eq!(queue.contents().unwrap().refused, [(refused.id, "id_reused".to_owned())]);
    assert_eq!(fs::read_to_string(home.path("scans.damaged")).unwrap(), "torn\n");
}

#[test]
fn two_programs_at_one_gate_append_whole_lines() {
    let (_folder, home) = home();
    std::thread::scope(|scope| {
        for _ in 0..4 {
            let queue = Queue::of(&home);
            scope.spawn(move || {
                for _ in 0..50 {
                    queue.note(&Line::Scan(scan())).unwrap();
                }
            });
        }
    });
    let found = Queue::of(&home).contents().unwrap();
    assert_eq!((found.waiting.len(), found.damaged), (200, 0));
}
