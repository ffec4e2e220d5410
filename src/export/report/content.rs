//! What the report says, in the order in which it is read.

use super::Report;
use super::document::{Block, Cell, Document, Mark, Table, columns};
use super::plot;
use super::words::{
    and, capital, count, day, days, moment, over, plain, range, sentence, short_day, while_of,
};
use crate::gatt::{Sfloat, Unit};
use crate::household::{Arm, Monitor, MonitorId, Note, Site};
use crate::journal::JudgedReading;
use crate::monitoring::average::Average;
use crate::monitoring::care::Care;
use crate::monitoring::escalation::Level;
use crate::monitoring::period::Mean;
use crate::monitoring::protocol::{Confidence, Protocol, Stated};
use crate::monitoring::taken::{Slot, Taken};
use crate::monitoring::variability::Variability;
use crate::reading::TimeSource;
use crate::technique::{Disposition, Reason, of_monitor};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Days that are listed one by one; more are summed up by month.
const DAYS_LISTED_MAX: usize = 62;
/// Alerts on the first sheet; how many more there are is said.
const ALERTS_MAX: usize = 3;
/// Corrections of a clock below this many seconds are not worth a column: stamps are no finer.
const CORRECTION_SHOWN_S: i64 = 60;

/// Stands below every average.
const CAUTION: &str = "This is an average, not a diagnosis. Symptoms come first, whatever the numbers say. Do not start, \
                       stop or change a medicine because of it.";

/// The report as blocks.
pub(super) fn document(report: &Report<'_>) -> Document {
    let period = report.period;
    let title = format!("Home blood pressure of {}", report.label());
    let mut blocks = vec![Block::Title(title.clone())];
    blocks.push(Block::Paragraph(whose(report)));
    headline(report, &mut blocks);
    let (plot, stems_only) = plot::over_time(report);
    blocks.push(Block::Figure(plot, below_plot(report, stems_only)));
    blocks.push(Block::Paragraph(complete(report)));
    blocks.push(Block::Small(format!(
        "{CAUTION} A program that is off raises no alarm. Made on {}.",
        moment(report.zones.civil(report.made_at))
    )));
    blocks.push(Block::Sheet);

    part(&mut blocks, "Mornings and evenings", |blocks| {
        blocks.push(Block::Pair(
            plot::panel(report, Slot::Morning, &period.morning),
            plot::panel(report, Slot::Evening, &period.evening),
        ));
        if period.average.is_some() {
            blocks.push(Block::Small(
                "The heavy ticks at the right are the means.".to_owned(),
            ));
        }
    });
    part(&mut blocks, "How sure the average is", |blocks| {
        sure(report, blocks);
    });
    part(&mut blocks, "For the clinician to look at", |blocks| {
        looked_at(report, blocks);
    });
    part(&mut blocks, "How complete the period was", |blocks| {
        blocks.push(sessions(report));
    });
    part(&mut blocks, "How the readings vary", |blocks| {
        vary(report, blocks);
    });
    part(&mut blocks, "Why readings were marked or set aside", |blocks| {
        reasons(report, blocks);
    });
    part(&mut blocks, "All readings", |blocks| {
        blocks.push(all_readings(report));
    });
    part(&mut blocks, "Noted in these days", |blocks| noted(report, blocks));
    part(&mut blocks, "The monitor", |blocks| monitors(report, blocks));
    part(&mut blocks, "Clocks", |blocks| clocks(report, blocks));
    part(&mut blocks, "The protocol", |blocks| {
        protocol(report.protocol, blocks);
    });
    part(&mut blocks, "To bear in mind", |blocks| cautions(report, blocks));
    Document {
        title,
        running: format!("{}, {}", who(report), days(period.from, period.to)),
        key: "Filled: counted. Open: counted, with something to know. Struck through: set aside, not averaged.",
        blocks,
    }
}

/// A heading with what follows it; neither where nothing follows.
fn part(blocks: &mut Vec<Block>, heading: &str, fill: impl FnOnce(&mut Vec<Block>)) {
    blocks.push(Block::Heading(heading.to_owned()));
    let before = blocks.len();
    fill(blocks);
    if blocks.len() == before {
        blocks.pop();
    }
}

/// Label and id.
fn who(report: &Report<'_>) -> String {
    let (label, id) = (report.label(), report.period.person.as_str());
    if label == id {
        label.to_owned()
    } else {
        format!("{label} ({id})")
    }
}

fn whose(report: &Report<'_>) -> String {
    let period = report.period;
    let mut about = who(report);
    if let Some(person) = report.person() {
        if let Some(born) = person.born {
            about += &format!(", born {born}");
        }
        match person.arm {
            Some(Arm::Left) => about += ", left arm",
            Some(Arm::Right) => about += ", right arm",
            None => {}
        }
    }
    format!(
        "{about}. {}. Protocol: {} ({}).",
        capital(&days(period.from, period.to)),
        report.protocol.title,
        period.protocol
    )
}

/// The answer: the average, what it is held against, what cannot wait, and the averages beside it.
fn headline(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let period = report.period;
    match &period.average {
        Some(average) => {
            blocks.push(Block::Large(format!(
                "{} mmHg",
                over(average.systolic, average.diastolic)
            )));
            let pulse = average
                .pulse_rate
                .map(|pulse| format!(", pulse {pulse:.0} a minute"))
                .unwrap_or_default();
            let interval = average.interval_95.map_or_else(
                || " One day alone gives no interval.".to_owned(),
                |interval| {
                    format!(
                        " The 95 % interval is {} systolic and {} diastolic.",
                        range(interval.systolic),
                        range(interval.diastolic)
                    )
                },
            );
            blocks.push(Block::Paragraph(format!(
                "Average of {} on {}{pulse}.{interval}",
                count(average.n, "reading"),
                count(average.days, "day")
            )));
        }
        None => {
            blocks.push(Block::Large("No average".to_owned()));
            blocks.push(Block::Paragraph(format!(
                "Not enough readings for an average ({}). No average is shown, because a number that is shown is a \
                 number that is used.",
                period.insufficient.as_deref().unwrap_or("none counts")
            )));
        }
    }
    held_against(report, blocks);
    cannot_wait(report, blocks);
    if period.average.is_some() {
        blocks.push(averages(report));
    }
}

fn held_against(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let period = report.period;
    if let Some(why) = &period.labels_off {
        blocks.push(Block::Paragraph(format!(
            "No threshold is applied: {}",
            sentence(why)
        )));
    }
    let Some(threshold) = &period.threshold else {
        return;
    };
    let limits = format!(
        "{}/{} mmHg",
        threshold.limits.systolic.mmhg(),
        threshold.limits.diastolic.mmhg()
    );
    let mut said = match period.at_or_above {
        Some(true) => format!(
            "At or above the threshold of {limits} in {}. Only a clinician can say what it means.",
            and(&period.reached_by)
        ),
        Some(false) => format!("Below the threshold of {limits}."),
        None => format!("The threshold would be {limits}."),
    };
    if let Some(average) = &period.average {
        let parts = [
            ("systolic", average.systolic, threshold.limits.systolic.mmhg()),
            ("diastolic", average.diastolic, threshold.limits.diastolic.mmhg()),
        ];
        for (name, exact, limit) in parts {
            // What is printed is rounded, what is compared is not.
            let printed = (exact * 10.0).round() / 10.0;
            if exact < limit && printed >= limit {
                said += &format!(" The exact {name} average is {exact:.4}, below {limit}.");
            }
        }
    }
    said += &format!(" Threshold: {}", sentence(&threshold.source));
    if let Some(band) = &period.band {
        said += &format!(" The guideline's own word: {} ({}).", band.name, band.source);
    }
    if let Some(more) = period.go_on_to_days {
        said += &format!(" So close to the threshold the protocol goes on to {more} days.");
    }
    blocks.push(Block::Paragraph(said));
}

fn cannot_wait(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let urgent: Vec<_> = report
        .alerts
        .iter()
        .filter(|alert| alert.level > Level::Note)
        .collect();
    for alert in urgent.iter().take(ALERTS_MAX) {
        blocks.push(Block::Notice(format!(
            "{} on {}: the household was told \u{201c}{}\u{201d}",
            capital(&plain(alert.about.name())),
            moment(report.zones.civil(alert.at)),
            alert.say
        )));
    }
    if urgent.len() > ALERTS_MAX {
        blocks.push(Block::Notice(format!(
            "{} more of this kind, all under \u{201c}For the clinician to look at\u{201d}.",
            urgent.len() - ALERTS_MAX
        )));
    }
}

fn averages(report: &Report<'_>) -> Block {
    let period = report.period;
    let drop = report.protocol.drop_first_day.value;
    let mut rows = Vec::new();
    let mut whole = |name: &str, average: &Option<Average>| {
        let Some(average) = average else { return };
        let (systolic, diastolic) = average.interval_95.map_or_else(Default::default, |interval| {
            (range(interval.systolic), range(interval.diastolic))
        });
        rows.push(vec![
            name.into(),
            over(average.systolic, average.diastolic).into(),
            systolic.into(),
            diastolic.into(),
            average
                .pulse_rate
                .map(|pulse| format!("{pulse:.1}"))
                .unwrap_or_default()
                .into(),
            average.n.to_string().into(),
            average.days.to_string().into(),
        ]);
    };
    let (all, without) = if drop {
        ("Of all days", "By the protocol, without the first day")
    } else {
        ("By the protocol, of all days", "Without the first day")
    };
    let pair = [
        (all, &period.average_of_all_days),
        (without, &period.average_without_first_day),
    ];
    let ordered = if drop { [pair[1], pair[0]] } else { pair };
    for (name, average) in ordered {
        whole(name, average);
    }
    for (name, mean) in [
        ("Mornings", &period.morning),
        ("Evenings", &period.evening),
        ("First reading of each morning", &period.first_morning),
    ] {
        rows.extend(of_mean(name, mean));
    }
    Block::Table(Table {
        caption: "Averages in mmHg, systolic over diastolic".to_owned(),
        columns: columns(&[
            "Average",
            "mmHg#",
            "95 % systolic#",
            "95 % diastolic#",
            "Pulse#",
            "Readings#",
            "Days#",
        ]),
        rows,
    })
}

fn of_mean(name: &str, mean: &Mean) -> Option<Vec<Cell>> {
    let (systolic, diastolic) = mean.systolic.zip(mean.diastolic)?;
    let mut row: Vec<Cell> = vec![name.into(), over(systolic, diastolic).into()];
    row.extend(["", "", ""].map(Cell::from));
    row.push(mean.n.to_string().into());
    row.push("".into());
    Some(row)
}

fn below_plot(report: &Report<'_>, stems_only: bool) -> String {
    let mut said = if stems_only {
        "Each reading is a thin stem from systolic to diastolic. Those that were set aside are ticks at the lower edge; \
         the table tells counted from marked."
    } else {
        "Each reading is a stem from systolic to diastolic; filled: counted; open: marked, which is counted with \
         something to know; struck through: set aside, not averaged. In each day mornings stand left, evenings right, \
         and a missed session leaves a gap."
    }
    .to_owned();
    if report.period.threshold.is_some() {
        said += " Dashed: the threshold that is named above.";
    }
    match plot::left_out(report) {
        0 => {}
        1 => said += " 1 reading without a time or a possible value stands in the table only.",
        n => said += &format!(" {n} readings without a time or a possible value stand in the table only."),
    }
    said
}

fn complete(report: &Report<'_>) -> String {
    let period = report.period;
    let counts = &period.readings;
    let named = |reasons: &BTreeMap<&'static str, usize>| {
        let each: Vec<String> = reasons
            .iter()
            .map(|(reason, n)| format!("{} {n}", plain(reason)))
            .collect();
        if each.is_empty() {
            String::new()
        } else {
            format!(" ({})", each.join(", "))
        }
    };
    let mut said = format!(
        "{} of {} sessions. {}: {} counted, {} of them marked{}; {} set aside{}.",
        period.sessions,
        period.sessions_expected,
        count(counts.counted + counts.set_aside, "reading"),
        counts.counted,
        counts.marked,
        named(&counts.marked_reasons),
        counts.set_aside,
        named(&counts.set_aside_reasons)
    );
    match report.nobodys {
        0 => {}
        1 => said += " 1 more reading of these days is nobody's yet.",
        n => said += &format!(" {n} more readings of these days are nobody's yet."),
    }
    said
}

fn sure(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let Some(average) = &report.period.average else {
        return;
    };
    if let Some(chance) = &report.period.chance_at_or_above {
        blocks.push(Block::Paragraph(chance.say.clone()));
    }
    if average.interval_95.is_some() {
        blocks.push(Block::Paragraph(
            "The interval takes the day as the unit that repeats, because readings of one day resemble each other. It \
             does not know an error of the monitor. The exact average is compared with the threshold, never a rounded \
             one."
                .to_owned(),
        ));
    }
}

fn looked_at(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut items: Vec<String> = report
        .alerts
        .iter()
        .map(|alert| {
            format!(
                "{}, {}: {} Source: {}",
                capital(&plain(alert.about.name())),
                moment(report.zones.civil(alert.at)),
                alert.say,
                sentence(alert.source)
            )
        })
        .collect();
    let patterns = report.patterns.iter().map(|pattern| {
        format!(
            "{}: {} Source: {}",
            capital(&plain(pattern.id)),
            pattern.say,
            sentence(pattern.source)
        )
    });
    items.extend(patterns);
    if !items.is_empty() {
        blocks.push(Block::List(items));
    }
}

/// Each day, or each month of a long period, with its parts.
fn sessions(report: &Report<'_>) -> Block {
    let period = report.period;
    let mut days: Vec<Date> = Vec::new();
    let mut day = period.from;
    while day <= period.to {
        days.push(day);
        let Ok(next) = day.tomorrow() else { break };
        day = next;
    }
    let by_month = days.len() > DAYS_LISTED_MAX;
    let name = |day: Date| {
        if by_month {
            day.strftime("%B %Y").to_string()
        } else {
            short_day(day)
        }
    };
    let mut rows: Vec<(String, [(usize, usize); 3])> = Vec::new();
    for day in &days {
        let name = name(*day);
        if rows.last().is_none_or(|(last, _)| *last != name) {
            rows.push((name, Default::default()));
        }
    }
    let places: BTreeMap<String, usize> = rows
        .iter()
        .enumerate()
        .map(|(i, (name, _))| (name.clone(), i))
        .collect();
    for (_, taken) in &report.readings {
        let row = places
            .get(&name(taken.day))
            .and_then(|place| rows.get_mut(*place));
        let Some((_, [morning, evening, other])) = row else {
            continue;
        };
        let (counted, set_aside) = match taken.slot {
            Slot::Morning => morning,
            Slot::Evening => evening,
            Slot::Other => other,
        };
        if taken.counted().is_some() {
            *counted += 1;
        } else {
            *set_aside += 1;
        }
    }
    let cell = |(counted, set_aside): (usize, usize)| {
        Cell::from(match (counted, set_aside) {
            (0, 0) => "none".to_owned(),
            (n, 0) => format!("{n} counted"),
            (0, n) => format!("{n} set aside"),
            (n, m) => format!("{n} counted, {m} set aside"),
        })
    };
    let other = rows.iter().any(|(_, [_, _, other])| *other != (0, 0));
    let names: &[&str] = if other {
        &["Day=", "Morning", "Evening", "At other times"]
    } else {
        &["Day=", "Morning", "Evening"]
    };
    Block::Table(Table {
        caption: format!(
            "Readings by {} and part of the day: {} of {} sessions held",
            if by_month { "month" } else { "day" },
            period.sessions,
            period.sessions_expected
        ),
        columns: columns(names),
        rows: rows
            .into_iter()
            .map(|(name, parts)| {
                let parts = parts.into_iter().take(names.len() - 1).map(cell);
                [Cell::from(name)].into_iter().chain(parts).collect()
            })
            .collect(),
    })
}

fn vary(report: &Report<'_>, blocks: &mut Vec<Block>) {
    if report.period.average.is_none() {
        return;
    }
    let spread = &report.period.variability;
    let number =
        |value: Option<f64>| Cell::from(value.map(|value| format!("{value:.1}")).unwrap_or_default());
    let row = |name: &str, of: &Variability| {
        vec![
            name.into(),
            of.n.to_string().into(),
            number(of.sd),
            number(of.cv),
            number(of.arv),
            number(of.range),
        ]
    };
    blocks.push(Block::Table(Table {
        caption: "Spread in mmHg, the coefficient of variation in per cent".to_owned(),
        columns: columns(&[
            "Readings averaged",
            "n#",
            "Standard deviation#",
            "Coefficient of variation#",
            "Average real variability#",
            "Range#",
        ]),
        rows: vec![
            row("All, systolic", &spread.all.systolic),
            row("All, diastolic", &spread.all.diastolic),
            row("First of each morning, systolic", &spread.first_morning.systolic),
            row(
                "First of each morning, diastolic",
                &spread.first_morning.diastolic,
            ),
        ],
    }));
    blocks.push(Block::Small(
        "For information, not a verdict: there is no agreement on how to measure variability, and no trial shows that \
         lowering it helps (ESC 2024, section 5.6). Average real variability: mean absolute difference of readings that \
         follow one another (Mena et al., J Hypertens 2005;23:505)."
            .to_owned(),
    ));
}

fn reasons(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let counts = &report.period.readings;
    let all = counts
        .set_aside_reasons
        .iter()
        .map(|reason| (Mark::SetAside, reason))
        .chain(counts.marked_reasons.iter().map(|reason| (Mark::Marked, reason)));
    let rows: Vec<Vec<Cell>> = all
        .map(|(mark, (name, n))| {
            let rule = Reason::from_name(name).map(Reason::rule);
            let effect = rule.and_then(|rule| rule.effect).map(|effect| {
                format!(
                    " Known effect in mmHg, shown and never subtracted: systolic {}, diastolic {} ({}).",
                    effect.systolic, effect.diastolic, effect.source
                )
            });
            vec![
                Cell {
                    mark: Some(mark),
                    text: capital(&plain(name)),
                },
                n.to_string().into(),
                rule.map_or("", |rule| rule.basis.name()).into(),
                rule.map(|rule| rule.says.to_owned() + effect.as_deref().unwrap_or_default())
                    .unwrap_or_default()
                    .into(),
                rule.map_or("", |rule| rule.source).into(),
            ]
        })
        .collect();
    if rows.is_empty() {
        blocks.push(Block::Paragraph("None was.".to_owned()));
        return;
    }
    blocks.push(Block::Table(Table {
        caption: "Reasons, how often, and how each is known".to_owned(),
        columns: columns(&["Reason=", "Readings#", "Known=", "What it says", "Source"]),
        rows,
    }));
}

fn all_readings(report: &Report<'_>) -> Block {
    let corrected = report
        .readings
        .iter()
        .any(|(judged, _)| judged.reading.time.correction_s.abs() >= CORRECTION_SHOWN_S);
    let mut names = vec!["Day=", "Time=", "Part=", "mmHg#", "Pulse#", "Disposition=", "Why"];
    if corrected {
        names.insert(2, "Clock off#");
    }
    let rows = report
        .readings
        .iter()
        .zip(&report.averaged)
        .map(|((judged, taken), averaged)| {
            let timed = judged.reading.time.at.map(|at| report.zones.civil(at));
            let mut row: Vec<Cell> = vec![
                timed
                    .map_or_else(|| "unknown".to_owned(), |civil| short_day(civil.date()))
                    .into(),
                timed
                    .map(|civil| civil.strftime("%H:%M:%S").to_string())
                    .unwrap_or_default()
                    .into(),
                if timed.is_some() { taken.slot.name() } else { "" }.into(),
                values(judged).into(),
                judged
                    .reading
                    .pulse_rate
                    .filter(|pulse| pulse.special().is_none())
                    .map(|pulse| pulse.to_string())
                    .unwrap_or_default()
                    .into(),
                Cell {
                    mark: Some(Mark::of(taken.disposition)),
                    text: disposition(taken, *averaged),
                },
                why(judged).into(),
            ];
            if corrected {
                row.insert(2, off(judged.reading.time.correction_s).into());
            }
            row
        })
        .collect();
    Block::Table(Table {
        caption: format!(
            "{} by the household's clock, systolic over diastolic in mmHg unless another unit is named",
            capital(&count(report.readings.len(), "reading"))
        ),
        columns: columns(&names),
        rows,
    })
}

/// As the monitor sent them, with exactly its digits.
fn values(judged: &JudgedReading) -> String {
    let reading = &judged.reading;
    let digits = |value: Sfloat| {
        value
            .special()
            .map_or_else(|| value.to_string(), |_| "none".to_owned())
    };
    if reading.systolic.special().is_some() && reading.diastolic.special().is_some() {
        return "no value".to_owned();
    }
    let unit = match reading.unit {
        Unit::MmHg => "",
        Unit::KPa => " kPa",
    };
    format!("{}/{}{unit}", digits(reading.systolic), digits(reading.diastolic))
}

fn disposition(taken: &Taken, averaged: bool) -> String {
    match taken.disposition {
        Disposition::SetAside => "set aside".to_owned(),
        kept => {
            let left_out = if averaged {
                ""
            } else {
                ", left out by the protocol"
            };
            format!("{}{left_out}", kept.name())
        }
    }
}

fn why(judged: &JudgedReading) -> String {
    let names: Vec<String> = judged
        .judgement
        .reasons
        .iter()
        .map(|reason| plain(reason.name()))
        .collect();
    let own = judged
        .reading
        .discarded
        .as_ref()
        .map(|words| format!("\u{201c}{words}\u{201d}"));
    names.into_iter().chain(own).collect::<Vec<_>>().join(", ")
}

/// How far the monitor's clock was from the household's.
fn off(correction_s: i64) -> String {
    match correction_s {
        0 => String::new(),
        behind @ 1.. => format!("{} slow", while_of(behind)),
        ahead => format!("{} fast", while_of(ahead)),
    }
}

fn noted(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let rows: Vec<Vec<Cell>> = report
        .notes
        .iter()
        .map(|note| {
            vec![
                moment(report.zones.civil(note.at)).into(),
                if note.monitor.is_some() {
                    "monitor"
                } else {
                    "person"
                }
                .into(),
                in_words(&note.what).into(),
            ]
        })
        .collect();
    if !rows.is_empty() {
        blocks.push(Block::Table(Table {
            caption: "What the household noted; said by a person, not measured".to_owned(),
            columns: columns(&["When=", "About the=", "What"]),
            rows,
        }));
    }
}

fn in_words(note: &Note) -> String {
    let with = |what: &str, text: &Option<String>| match text {
        Some(text) => format!("{what}: {text}"),
        None => what.to_owned(),
    };
    match note {
        Note::Medicine { text } => with("medicine taken", text),
        Note::MedicineChanged { text } => with("medicine changed", text),
        Note::Coffee => "coffee".to_owned(),
        Note::Smoking => "smoking".to_owned(),
        Note::Exercise => "exercise".to_owned(),
        Note::Alcohol => "alcohol".to_owned(),
        Note::Meal => "meal".to_owned(),
        Note::Waking => "waking".to_owned(),
        Note::Dinner => "dinner".to_owned(),
        Note::Symptoms { symptoms } => format!("symptoms: {}", symptoms.join(", ")),
        Note::Posture { fault } => format!("posture: {fault}"),
        Note::FullBladder => "full bladder".to_owned(),
        Note::NoRest => "no rest before".to_owned(),
        Note::Talked => "talked".to_owned(),
        Note::OverClothing => "cuff over clothing".to_owned(),
        Note::Arm { arm: Arm::Left } => "left arm".to_owned(),
        Note::Arm { arm: Arm::Right } => "right arm".to_owned(),
        Note::Cuff { min_mm, max_mm } => format!("cuff for {}", cuff(Some(*min_mm), Some(*max_mm))),
        Note::ClinicReading { systolic, diastolic } => {
            format!("reading at the clinic: {systolic}/{diastolic} mmHg")
        }
        Note::MonitorDropped => "monitor dropped".to_owned(),
        Note::BatteriesChanged => "batteries changed".to_owned(),
        Note::MonitorChecked { text } => with("monitor checked", text),
        Note::Other { text } => text.clone(),
    }
}

fn cuff(min_mm: Option<u16>, max_mm: Option<u16>) -> String {
    let cm = |mm: u16| format!("{} cm", f32::from(mm) / 10.0);
    match (min_mm, max_mm) {
        (Some(min), Some(max)) => format!("arms of {} to {}", cm(min), cm(max)),
        (Some(min), None) => format!("arms from {}", cm(min)),
        (None, Some(max)) => format!("arms up to {}", cm(max)),
        (None, None) => "not stated".to_owned(),
    }
}

fn monitors(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut seen: BTreeMap<&MonitorId, usize> = BTreeMap::new();
    for (judged, _) in &report.readings {
        *seen.entry(&judged.reading.monitor).or_default() += 1;
    }
    let unknown = Monitor::default();
    for (id, n) in seen {
        let monitor = report
            .household
            .monitors
            .get(id)
            .map_or(&unknown, |(monitor, _)| monitor);
        let care = report.cares.iter().find(|(of, _)| of == id).map(|(_, care)| care);
        blocks.push(monitor_table(report, id, n, monitor, care));
        let faults = of_monitor(monitor);
        let mut items: Vec<String> = faults
            .iter()
            .map(|reason| {
                let rule = reason.rule();
                format!("{} Source: {}", rule.says, sentence(rule.source))
            })
            .collect();
        let today = report.zones.civil(report.made_at).date();
        if let Some(care) = care {
            items.extend(care.due_on(today).map(|due| {
                format!(
                    "Due since {}: {}, because {} Source: {}",
                    day(due.on),
                    plain(due.task.name()),
                    sentence(&due.because),
                    sentence(due.source)
                )
            }));
        }
        let signs = report.signs.iter().filter(|(of, _)| of == id);
        items.extend(signs.map(|(_, sign)| format!("{} Source: {}", sign.say, sentence(sign.source))));
        if !items.is_empty() {
            blocks.push(Block::List(items));
        }
    }
}

fn monitor_table(
    report: &Report<'_>,
    id: &MonitorId,
    n: usize,
    monitor: &Monitor,
    care: Option<&Care>,
) -> Block {
    let or_not_stated = |fact: Option<String>| fact.unwrap_or_else(|| "not stated".to_owned());
    let made: Vec<&str> = [&monitor.manufacturer, &monitor.model]
        .into_iter()
        .filter_map(Option::as_deref)
        .collect();
    let site = monitor.site.map(|site| match site {
        Site::UpperArm => "on the upper arm".to_owned(),
        Site::Wrist => "on the wrist".to_owned(),
    });
    let facts = [
        ("Worn", or_not_stated(site)),
        (
            "Maker and model",
            or_not_stated((!made.is_empty()).then(|| made.join(" "))),
        ),
        ("Serial number", or_not_stated(monitor.serial.clone())),
        (
            "Validation",
            monitor.validated.as_ref().map_or_else(
                || "nobody has stated one".to_owned(),
                |listed| format!("stated by a person: {listed}"),
            ),
        ),
        ("Cuff", cuff(monitor.cuff_min_mm, monitor.cuff_max_mm)),
    ];
    let person = report.person().and_then(|person| person.arm_cm);
    let arm = person.map(|cm| ("The person's arm", format!("{cm} cm around")));
    let cared = care.into_iter().flat_map(|care| {
        [
            ("In use since", or_not_stated(care.since.map(day))),
            (
                "Last check",
                care.checked.map_or_else(|| "none noted".to_owned(), day),
            ),
        ]
    });
    let falls = care
        .filter(|care| care.drops > 0)
        .map(|care| ("Falls since then", care.drops.to_string()));
    Block::Table(Table {
        caption: format!("Monitor {id}, {} in these days", count(n, "reading")),
        columns: columns(&["Fact=", "On record"]),
        rows: facts
            .into_iter()
            .chain(arm)
            .chain(cared)
            .chain(falls)
            .map(|(name, fact)| vec![name.into(), fact.into()])
            .collect(),
    })
}

fn clocks(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut known: BTreeMap<(&MonitorId, &'static str), Vec<i64>> = BTreeMap::new();
    for (judged, _) in &report.readings {
        let reading = &judged.reading;
        known
            .entry((&reading.monitor, how_known(reading.time.source)))
            .or_default()
            .push(reading.time.correction_s);
    }
    if known.is_empty() {
        return;
    }
    let rows = known
        .into_iter()
        .map(|((monitor, how), corrections)| {
            let (least, most) = corrections
                .iter()
                .fold((i64::MAX, i64::MIN), |(least, most), by| {
                    (least.min(*by), most.max(*by))
                });
            let said = match (least, most) {
                (0, 0) => "none".to_owned(),
                (least, most) if least == most => format!("the clock was {}", off(least)),
                (0, most) => format!("from none to {}", off(most)),
                (least, 0) => format!("from none to {}", off(least)),
                (least, most) => format!("the clock was between {} and {}", off(least), off(most)),
            };
            vec![
                monitor.as_str().into(),
                how.into(),
                corrections.len().to_string().into(),
                said.into(),
            ]
        })
        .collect();
    blocks.push(Block::Table(Table {
        caption: "How the time of each reading is known, and what was corrected".to_owned(),
        columns: columns(&["Monitor", "Time known by", "Readings#", "Correction"]),
        rows,
    }));
}

const fn how_known(source: TimeSource) -> &'static str {
    match source {
        TimeSource::MonitorClock => "its stamp, held against the monitor's own clock",
        TimeSource::KnownOffset => "its stamp, shifted by the last known difference of that clock",
        TimeSource::WallClock => "its stamp as it stands; nothing better is known of that clock",
        TimeSource::Receipt => "the moment of its receipt",
        TimeSource::Stated => "a person's word",
        TimeSource::Unknown => "nothing: it is unknown",
    }
}

fn protocol(protocol: &Protocol, blocks: &mut Vec<Block>) {
    fn row<T>(rows: &mut Vec<Vec<Cell>>, name: &str, stated: &Stated<T>, value: String) {
        rows.push(vec![
            name.into(),
            value.into(),
            read(stated.confidence).into(),
            stated.source.clone().into(),
        ]);
    }
    let p = protocol;
    let mut rows = Vec::new();
    let slots: Vec<&str> = p.sessions.value.iter().map(|slot| slot.name()).collect();
    row(&mut rows, "Days", &p.days, p.days.value.to_string());
    row(&mut rows, "Sessions a day", &p.sessions, and(&slots));
    row(
        &mut rows,
        "Readings a session",
        &p.readings_per_session,
        p.readings_per_session.value.to_string(),
    );
    row(
        &mut rows,
        "Least time between them",
        &p.gap_seconds,
        while_of(i64::from(p.gap_seconds.value)),
    );
    row(
        &mut rows,
        "Fewest days for an average",
        &p.days_min,
        p.days_min.value.to_string(),
    );
    row(
        &mut rows,
        "Fewest readings for an average",
        &p.readings_min,
        p.readings_min.value.to_string(),
    );
    let drop = if p.drop_first_day.value {
        "left out"
    } else {
        "averaged"
    };
    row(&mut rows, "The first day", &p.drop_first_day, drop.to_owned());
    let limits = |limits: &crate::monitoring::protocol::Limits| {
        format!("{}/{} mmHg", limits.systolic.mmhg(), limits.diastolic.mmhg())
    };
    row(
        &mut rows,
        "Its threshold",
        &p.threshold,
        limits(&p.threshold.value),
    );
    for target in &p.targets {
        row(
            &mut rows,
            &format!("Target on treatment, {}", target.name),
            &target.below,
            format!("below {}; not applied here", limits(&target.below.value)),
        );
    }
    blocks.push(Block::Paragraph(format!(
        "{}: {}",
        p.title,
        sentence(&p.citation)
    )));
    blocks.push(Block::Table(Table {
        caption: format!("The rules of {}, and how far each source was read", p.name),
        columns: columns(&["Rule", "Value=", "Read", "Source"]),
        rows,
    }));
}

const fn read(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::FullText => "in full",
        Confidence::Summary => "in a summary",
        Confidence::Memory => "from memory, unconfirmed",
        Confidence::CommonPractice => "common practice",
        Confidence::OwnChoice => "own choice",
        Confidence::Clinic => "the clinic's",
    }
}

fn cautions(report: &Report<'_>, blocks: &mut Vec<Block>) {
    let mut items = vec![
        "No threshold in pregnancy, for children, in atrial fibrillation or on a dialysis arm, unless a clinician set it up."
            .to_owned(),
        "Whether the monitor is validated and the cuff fits is for a person to check.".to_owned(),
        "No value was corrected for a fault. What was set aside or marked is listed, never removed.".to_owned(),
    ];
    let reported: BTreeSet<&str> = report
        .readings
        .iter()
        .flat_map(|(_, taken)| taken.reasons.iter().copied())
        .filter(|reason| reason.starts_with("reported-"))
        .collect();
    if !reported.is_empty() {
        items.push(
            "Reasons that begin with \u{201c}reported\u{201d} are a person's word, not the monitor's."
                .to_owned(),
        );
    }
    blocks.push(Block::List(items));
}
