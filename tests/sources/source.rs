//! Files, told apart by what is in them.

use quietcuff::radio::json_lines::AsLine;
use quietcuff::radio::source::{SourceError, open};
use std::path::Path;
use std::process::Command;

const SESSION: &str = "fixtures/captures/session.btsnoop";

#[test]
fn a_capture_and_its_frames_as_lines_are_the_same_source() {
    let mut capture = open(Path::new(SESSION)).unwrap();
    let frames: Vec<_> = capture.by_ref().map(Result::unwrap).collect();
    assert_eq!(capture.summary().unwrap().frames, 15);
    let directory = tempfile::tempdir().unwrap();
    // The name says nothing.
    let path = directory.path().join("frames.btsnoop");
    let lines: String = frames
        .iter()
        .map(|frame| format!("{}\n", AsLine(frame)))
        .collect();
    std::fs::write(&path, lines).unwrap();
    let mut again = open(&path).unwrap();
    assert_eq!(again.by_ref().map(Result::unwrap).collect::<Vec<_>>(), frames);
    assert!(again.summary().is_none());
}

#[test]
fn what_is_no_source_is_told_with_what_to_do() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("file");
    let refused = |content: &[u8]| {
        std::fs::write(&path, content).unwrap();
        open(&path).err().map(|error| error.to_string()).unwrap()
    };
    assert!(refused(b"\xd4\xc3\xb2\xa1\x02\x00").contains("editcap -F btsnoop"));
    assert!(refused(b"\x0a\x0d\x0d\x0a\x1c\x00").contains("editcap -F btsnoop"));
    assert!(refused(b"\x7fELF\x02\x01\x01\x00").contains("neither a btsnoop capture nor"));
    assert!(refused(b"btsnoop\0\0\0").contains("does not begin with a btsnoop header"));
    assert!(refused(b"btsnoop\0\0\0\0\x01\0\0\x07\xd2").contains("datalink is 2002"));
    for (path, remedy) in [
        (directory.path().join("absent"), "check its name"),
        (directory.path().to_owned(), "name a file in it"),
    ] {
        let error = open(&path).err().unwrap();
        assert!(matches!(error, SourceError::Io { .. }));
        assert!(error.to_string().ends_with(remedy), "{error}");
    }
    std::fs::write(&path, "").unwrap();
    assert_eq!(open(&path).unwrap().count(), 0);
}

/// `mkfifo` is coreutils'.
#[test]
fn lines_may_come_from_a_pipe_and_a_capture_may_not() {
    let directory = tempfile::tempdir().unwrap();
    let pipe = directory.path().join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let through = |content: Vec<u8>| {
        std::thread::scope(|scope| {
            // The reader may hang up in the middle.
            scope.spawn(|| drop(std::fs::write(&pipe, content)));
            open(&pipe).map(Iterator::count)
        })
    };
    assert_eq!(through(b"{}\n{}\n".to_vec()).unwrap(), 2);
    let error = through(std::fs::read(SESSION).unwrap()).unwrap_err().to_string();
    assert!(error.ends_with("save it first"), "{error}");
}

#[test]
fn a_bad_line_does_not_end_the_file() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("lines");
    std::fs::write(&path, "no\n{\"no\":1}\n").unwrap();
    let all: Vec<_> = open(&path).unwrap().collect();
    assert!(matches!(
        &all[..],
        [Err(SourceError::Line { .. }), Err(SourceError::Line { .. })]
    ));
}
