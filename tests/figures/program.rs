//! How large the programs are, and of what: the sections of an ELF file (System V ABI, "Sections").

use crate::program;
use crate::table::{Aim, Table};

/// Only told: an idle program costs what it touches, which the collector's rows say.
pub(crate) fn measure(table: &mut Table) {
    let programs = [
        ("quietcuff, all commands", program("quietcuff")),
        ("quietcuff-listen, the collector", program("quietcuff-listen")),
    ];
    let whole = std::fs::metadata(&programs[0].1).unwrap().len() as f64 / 1e6;
    for (name, path) in programs {
        let file = std::fs::read(path).unwrap();
        let all = file.len() as f64 / 1e6;
        table.row(name, all, "MB", (whole, "all commands"), Aim::None);
        let parts = [
            ("instructions", &[".text"][..]),
            ("constants", &[".rodata"]),
            ("unwinding", &[".eh_frame", ".eh_frame_hdr", ".gcc_except_table"]),
            (
                "relocations and what they fill",
                &[".rela.dyn", ".data.rel.ro", ".got"],
            ),
        ];
        let sections = sections(&file);
        for (part, names) in parts {
            let octets: u64 = sections
                .iter()
                .filter(|(name, _)| names.contains(&name.as_str()))
                .map(|(_, n)| n)
                .sum();
            table.row(
                &format!("  {part}"),
                octets as f64 / 1e6,
                "MB",
                (all, "of it"),
                Aim::None,
            );
        }
    }
}

/// Names and sizes; of a 64-bit file whose numbers begin with the low octet.
fn sections(file: &[u8]) -> Vec<(String, u64)> {
    assert_eq!(&file[..6], b"\x7fELF\x02\x01");
    let number = |at: usize, octets: usize| {
        let low_first = file[at..at + octets].iter().rev();
        low_first.fold(0_u64, |number, octet| number << 8 | u64::from(*octet))
    };
    let place = |at: usize| usize::try_from(number(at, 8)).unwrap();
    let (headers, count, names) = (place(0x28), number(0x3c, 2), number(0x3e, 2));
    let header = |n: u64| headers + usize::try_from(n).unwrap() * 64;
    let names = place(header(names) + 0x18);
    (0..count)
        .map(|n| {
            let at = header(n);
            let name = &file[names + usize::try_from(number(at, 4)).unwrap()..];
            let name = name.split(|octet| *octet == 0).next().unwrap();
            (String::from_utf8_lossy(name).into_owned(), number(at + 0x20, 8))
        })
        .collect()
}
