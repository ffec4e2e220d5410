//! Situations of a household's monitors, each as it is heard.

use crate::reading::table::{settles, settles_in, zoned};
use quietcuff::household::Statement;
use quietcuff::reading::Precision;

// ---- live and stored -----------------------------------------------------------------------------------------------

#[test]
fn live_on_a_right_clock() {
    settles(
        "+01:00",
        "1 2026-03-01T07:02:14.250+01:00 stamp 2026-03-01T07:02:11 -> 2026-03-01T07:02:11+01:00 monitor-clock +0
         2 2026-03-01T07:04:02.100+01:00 stamp 2026-03-01T07:03:58 -> 2026-03-01T07:03:58+01:00 monitor-clock +0",
    );
}

#[test]
fn stored_with_nothing_known_is_taken_for_the_wall_clock() {
    settles(
        "Europe/Berlin",
        "1 2026-05-02T20:00:00+02:00 stamp 2026-05-01T07:02:11 -> 2026-05-01T07:02:11+02:00 wall-clock +0
         1 2026-05-02T20:00:01+02:00 stamp 2026-05-02T07:05:40 -> 2026-05-02T07:05:40+02:00 wall-clock +0",
    );
}

#[test]
fn stored_beside_live_takes_the_live_offset() {
    // The monitor is a minute and a half ahead; only the live reading shows it.
    settles(
        "+00:00",
        "1 2026-05-02T20:00:00Z stamp 2026-05-01T07:02:11 -> 2026-05-01T07:00:45Z known-offset -86
         1 2026-05-02T20:00:01Z stamp 2026-05-02T20:01:29 -> 2026-05-02T20:00:03Z monitor-clock -86",
    );
}

#[test]
fn stored_after_a_read_takes_the_offset_last_known() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2026-05-01T07:50:00
         1 2026-05-01T08:00:05Z stamp 2026-05-01T07:49:30 -> 2026-05-01T07:59:30Z monitor-clock +600
         2 2026-05-03T08:00:05Z stamp 2026-05-02T07:49:30 -> 2026-05-02T07:59:30Z known-offset +600",
    );
}

#[test]
fn the_clock_read_corrects_stored_and_live_alike_wherever_on_the_connection_it_comes() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z stamp 2026-04-29T19:00:00 -> 2026-04-29T19:07:30Z known-offset +450
         1 2026-05-01T08:00:05Z stamp 2026-05-01T07:52:10 -> 2026-05-01T07:59:40Z monitor-clock +450
         1 2026-05-01T08:00:06Z date-time 2026-05-01T07:52:36",
    );
}

#[test]
fn a_stored_stamp_is_the_clocks_own_only_where_a_setting_since_the_last_look_would_show() {
    // On the first look nobody knows what the clock did before, and over three weeks drift explains minutes.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:05Z clock 2026-05-01T08:00:05
         1 2026-05-01T08:00:06Z stamp 2026-04-30T19:00:01 -> 2026-04-30T19:00:01Z known-offset +0
         2 2026-05-02T08:00:05Z clock 2026-05-02T08:00:05
         2 2026-05-02T08:00:06Z stamp 2026-05-01T19:00:00 -> 2026-05-01T19:00:00Z monitor-clock +0
         3 2026-05-23T08:00:05Z clock 2026-05-23T08:00:05
         3 2026-05-23T08:00:06Z stamp 2026-05-20T19:00:00 -> 2026-05-20T19:00:00Z known-offset +0
         3 2026-05-23T08:00:06Z stamp 2026-05-23T07:59:40 -> 2026-05-23T07:59:40Z monitor-clock +0",
    );
}

#[test]
fn a_clock_that_was_set_unseen_vouches_for_nothing_before_it_was_seen_again() {
    // It may have been set twice in that day, and have shown a third thing in between.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:05Z clock 2020-01-01T00:10:00
         2 2026-05-02T08:00:05Z clock 2026-05-02T08:00:05
         2 2026-05-02T08:00:06Z stamp 2026-05-01T19:00:01 -> 2026-05-01T19:00:01Z known-offset +0
         3 2026-05-03T08:00:05Z clock 2026-05-03T08:00:05
         3 2026-05-03T08:00:06Z stamp 2026-05-02T19:00:01 -> 2026-05-02T19:00:01Z monitor-clock +0",
    );
}

#[test]
fn a_record_twelve_hours_late_is_late_and_not_wrong() {
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:05+02:00 stamp 2026-05-01T08:00:01 -> 2026-05-01T08:00:01+02:00 monitor-clock +0
         2 2026-05-02T08:00:05+02:00 stamp 2026-05-01T20:00:02 -> 2026-05-01T20:00:02+02:00 known-offset +0
         3 2026-05-02T08:10:05+02:00 stamp 2026-05-02T08:10:01 -> 2026-05-02T08:10:01+02:00 monitor-clock +0",
    );
}

#[test]
fn a_delay_of_minutes_is_not_taken_for_drift() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:05Z stamp 2026-05-01T08:00:01 -> 2026-05-01T08:00:01Z monitor-clock +0
         2 2026-05-01T08:05:55Z stamp 2026-05-01T08:02:00 -> 2026-05-01T08:02:00Z monitor-clock +0
         3 2026-05-01T08:06:05Z stamp 2026-05-01T08:06:01 -> 2026-05-01T08:06:01Z monitor-clock +0
         4 2026-05-04T08:03:05Z stamp 2026-05-04T08:00:01 -> 2026-05-04T08:00:01Z monitor-clock +0
         5 2026-05-06T08:02:05Z stamp 2026-05-06T08:00:01 -> 2026-05-06T08:00:01Z monitor-clock +0
         6 2026-05-07T08:00:05Z stamp 2026-05-07T08:00:01 -> 2026-05-07T08:00:01Z monitor-clock +0
         7 2026-05-08T08:03:05Z stamp 2026-05-08T08:00:01 -> 2026-05-08T08:00:01Z monitor-clock +0",
    );
}

#[test]
fn noise_of_the_clock_read_does_not_stretch_an_interval() {
    // Sixty seconds by the monitor, read a second slower the second time.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00.100Z clock 2026-05-01T07:50:00
         1 2026-05-01T08:00:02Z stamp 2026-05-01T07:49:50 -> 2026-05-01T07:59:50Z monitor-clock +600
         2 2026-05-01T08:01:01.900Z clock 2026-05-01T07:51:00
         2 2026-05-01T08:01:03Z stamp 2026-05-01T07:50:50 -> 2026-05-01T08:00:50Z monitor-clock +600",
    );
}

#[test]
fn a_clock_that_is_right_to_the_noise_of_reading_it_needs_no_correction() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:01.900Z clock 2026-05-01T08:00:00
         1 2026-05-01T08:00:03Z stamp 2026-05-01T07:59:17 -> 2026-05-01T07:59:17Z monitor-clock +0",
    );
}

#[test]
fn one_number_after_a_long_silence_is_another_connection() {
    // An hour ahead in the morning, right in the evening; on one connection that would be a setting that was seen.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2026-05-01T09:00:00
         1 2026-05-01T20:00:00Z clock 2026-05-01T20:00:00
         1 2026-05-01T20:00:02Z stamp 2026-05-01T20:30:11 -> unknown",
    );
}

// ---- drift ---------------------------------------------------------------------------------------------------------

/// A year of a clock that gains or loses seconds a day and cannot be read, a reading every morning that comes four
/// seconds after it was taken.
fn a_year_of_drift(seconds_a_day: i64, error_s_max: i64) {
    let zone = zoned(&[("+00:00", None)]);
    let first = crate::reading::table::moment("2026-02-01T07:00:03Z");
    let mut taken = Vec::new();
    let mut frames = Vec::new();
    for day in 0..365_i64 {
        let at = first + jiff::SignedDuration::from_hours(24 * day);
        let shown = at + jiff::SignedDuration::from_secs(seconds_a_day * day);
        let stamp = crate::reading::table::stamp(jiff::tz::Offset::UTC.to_datetime(shown));
        let value = crate::reading::table::measurement(1, Some(stamp))
            .encode()
            .to_vec();
        let received = at + jiff::SignedDuration::from_secs(4);
        frames.push(crate::reading::table::frame(
            u32::try_from(day).unwrap(),
            received,
            "2a35",
            value,
        ));
        taken.push(at);
    }
    let readings = crate::reading::table::settled(&frames, &zone);
    assert_eq!(readings.len(), taken.len());
    for (reading, taken) in readings.iter().zip(taken) {
        let at = reading.time.at.expect("drift never makes a time unknown");
        let error = at.duration_since(taken).as_secs();
        assert!(error.abs() <= error_s_max, "{taken}: {error} s off");
        assert_eq!(reading.time.source.name(), "monitor-clock");
    }
}

#[test]
fn a_clock_that_gains_seconds_a_day_is_followed() {
    // It can be no later than the receipt.
    a_year_of_drift(3, 6);
    a_year_of_drift(8, 6);
}

#[test]
fn a_clock_that_loses_seconds_a_day_is_followed() {
    // Only the lag beyond the usual minute can be the clock's, and only the least that three readings in a row show:
    // the offset runs up to five days behind.
    a_year_of_drift(-3, 60 + 5 * 3);
    a_year_of_drift(-8, 60 + 5 * 8);
}

#[test]
fn a_monitor_unused_for_months_may_have_drifted() {
    settles(
        "+00:00",
        "1 2026-02-01T08:00:05Z stamp 2026-02-01T08:00:01 -> 2026-02-01T08:00:01Z monitor-clock +0
         2 2026-05-02T08:00:05Z stamp 2026-05-02T08:07:01 -> 2026-05-02T08:00:07Z monitor-clock -414",
    );
}

// ---- unset clocks --------------------------------------------------------------------------------------------------

#[test]
fn unset_clocks_are_unknown_where_they_cannot_be_read() {
    for unset in [
        "2000-01-01T00:00:00",
        "2010-01-01T00:12:40",
        "2020-01-01T23:40:02",
        "2026-01-01T00:03:12",
        "2019-06-15T08:00:00",
        "1899-12-31T12:00:00",
    ] {
        settles(
            "Europe/Berlin",
            &format!("1 2026-05-01T08:00:05+02:00 stamp {unset} -> unknown"),
        );
    }
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:05+02:00 zero-stamp -> unknown",
    );
}

#[test]
fn an_unset_clock_that_can_be_read_is_as_good_as_any() {
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:05+02:00 clock 2020-01-01T00:04:00
         1 2026-05-01T08:00:06+02:00 stamp 2020-01-01T00:01:30 -> 2026-05-01T07:57:35+02:00 monitor-clock +199781765
         1 2026-05-01T08:00:07+02:00 stamp 2020-01-01T00:03:05 -> 2026-05-01T07:59:10+02:00 monitor-clock +199781765",
    );
}

#[test]
fn a_stamp_of_the_unset_past_on_a_clock_that_is_right_now_is_unknown() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:05Z clock 2026-05-01T08:00:05
         1 2026-05-01T08:00:06Z stamp 2020-01-01T00:01:30 -> unknown
         1 2026-05-01T08:00:07Z stamp 2026-05-01T07:59:30 -> 2026-05-01T07:59:30Z monitor-clock +0",
    );
}

#[test]
fn nothing_was_measured_before_the_service_was_adopted() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:05Z clock 2026-05-01T08:00:05
         1 2026-05-01T08:00:06Z stamp 2011-10-24T23:59:30 -> unknown
         1 2026-05-01T08:00:06Z stamp 2011-10-25T00:00:30 -> 2011-10-25T00:00:30Z known-offset +0",
    );
}

#[test]
fn a_true_reading_on_new_years_day_counts() {
    settles(
        "+00:00",
        "1 2026-01-01T07:00:05Z stamp 2026-01-01T07:00:01 -> 2026-01-01T07:00:01Z monitor-clock +0
         2 2026-01-02T07:00:05Z stamp 2026-01-01T19:00:01 -> 2026-01-01T19:00:01Z known-offset +0",
    );
}

#[test]
fn a_stamp_in_the_future_is_unknown() {
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:05+02:00 stamp 2026-05-01T09:30:00 -> unknown
         2 2026-05-01T08:20:05+02:00 stamp 2027-05-01T09:30:00 -> unknown",
    );
}

#[test]
fn a_stamp_later_than_the_clock_just_read_is_from_another_timeline() {
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:05+02:00 clock 2026-05-01T08:00:05
         1 2026-05-01T08:00:06+02:00 stamp 2026-05-01T08:02:00 -> unknown
         1 2026-05-01T08:00:07+02:00 stamp 2026-05-01T07:58:31 -> 2026-05-01T07:58:31+02:00 monitor-clock +0",
    );
}

// ---- a battery change, a clock set ---------------------------------------------------------------------------------

#[test]
fn a_battery_change_between_two_bursts_with_a_readable_clock() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2026-05-01T08:00:00
         1 2026-05-01T08:00:02Z stamp 2026-05-01T07:57:12 -> 2026-05-01T07:57:12Z monitor-clock +0
         1 2026-05-01T08:00:03Z stamp 2026-05-01T07:58:40 -> 2026-05-01T07:58:40Z monitor-clock +0
         # The reading of the evening was still inside when the battery went; the clock began again the next morning.
         2 2026-05-02T08:00:00Z clock 2020-01-01T00:10:00
         2 2026-05-02T08:00:02Z stamp 2026-05-01T20:03:09 -> unknown
         2 2026-05-02T08:00:03Z stamp 2020-01-01T00:08:40 -> 2026-05-02T07:58:40Z monitor-clock +199871400",
    );
}

#[test]
fn a_battery_change_between_two_bursts_without_a_readable_clock() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:02Z stamp 2026-05-01T07:58:12 -> 2026-05-01T07:58:12Z monitor-clock +0
         2 2026-05-02T08:00:02Z stamp 2026-05-01T20:03:09 -> 2026-05-01T20:03:09Z known-offset +0
         2 2026-05-02T08:00:03Z stamp 2020-01-01T00:08:40 -> unknown
         # Somebody sets it to the wall clock again.
         3 2026-05-03T08:00:03Z stamp 2026-05-03T08:00:01 -> 2026-05-03T08:00:01Z monitor-clock +0",
    );
}

#[test]
fn two_battery_changes_make_two_timelines_of_the_same_look() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2020-01-01T00:10:00
         1 2026-05-01T08:00:03Z stamp 2020-01-01T00:08:40 -> 2026-05-01T07:58:40Z monitor-clock +199785000
         2 2026-05-09T08:00:00Z clock 2020-01-01T00:05:00
         2 2026-05-09T08:00:03Z stamp 2020-01-01T00:03:40 -> 2026-05-09T07:58:40Z monitor-clock +200476500",
    );
}

#[test]
fn a_clock_set_by_us_on_the_connection_keeps_old_and_new_stamps_apart() {
    // An hour ahead when it is read; set; read back. The stored records are from before.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2026-05-01T09:00:00
         1 2026-05-01T08:00:02Z clock 2026-05-01T08:00:02
         1 2026-05-01T08:00:03Z stamp 2026-04-30T20:10:05 -> 2026-04-30T19:10:05Z known-offset -3600
         1 2026-05-01T08:00:04Z stamp 2026-05-01T08:59:10 -> 2026-05-01T07:59:10Z known-offset -3600
         1 2026-05-01T08:01:40Z stamp 2026-05-01T08:01:36 -> 2026-05-01T08:01:36Z monitor-clock +0",
    );
    // Six years behind.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2020-01-01T00:10:00
         1 2026-05-01T08:00:02Z clock 2026-05-01T08:00:02
         1 2026-05-01T08:00:03Z stamp 2020-01-01T00:08:40 -> 2026-05-01T07:58:40Z known-offset +199785000
         1 2026-05-01T08:01:40Z stamp 2026-05-01T08:01:36 -> 2026-05-01T08:01:36Z monitor-clock +0",
    );
}

#[test]
fn a_clock_set_by_us_between_two_connections_keeps_old_and_new_stamps_apart() {
    // Set at the end of the first connection, seen on the second.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2026-05-01T07:10:00
         1 2026-05-01T08:00:02Z stamp 2026-05-01T07:09:04 -> 2026-05-01T07:59:04Z monitor-clock +3000
         2 2026-05-01T20:00:00Z clock 2026-05-01T20:00:00
         # Not sent this morning, for whatever reason; it is older than the setting.
         2 2026-05-01T20:00:02Z stamp 2026-05-01T07:06:00 -> 2026-05-01T07:56:00Z known-offset +3000
         2 2026-05-01T20:00:03Z stamp 2026-05-01T19:59:10 -> 2026-05-01T19:59:10Z monitor-clock +0",
    );
}

#[test]
fn what_may_be_before_or_after_the_setting_is_unknown() {
    // An hour ahead until it was set at 08:00: half past eight is either, unless it comes live.
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z clock 2026-05-01T09:00:00
         1 2026-05-01T08:00:02Z clock 2026-05-01T08:00:02
         2 2026-05-01T08:30:06Z clock 2026-05-01T08:30:06
         2 2026-05-01T08:30:09Z stamp 2026-05-01T08:30:01 -> 2026-05-01T08:30:01Z monitor-clock +0
         3 2026-05-01T20:00:00Z clock 2026-05-01T20:00:00
         3 2026-05-01T20:00:01Z stamp 2026-05-01T08:40:00 -> unknown
         3 2026-05-01T20:00:02Z stamp 2026-05-01T09:40:00 -> 2026-05-01T09:40:00Z monitor-clock +0",
    );
}

#[test]
fn what_may_be_before_or_after_a_setting_that_nobody_saw_is_unknown() {
    // Seventeen hours ahead, as after a move, and set right some time in the night. A record of that day can be on
    // either side of the setting; one that is live, or after it on any account, cannot.
    settles(
        "+00:00",
        "1 2026-05-01T06:00:00Z clock 2026-05-01T23:00:00
         1 2026-05-01T06:00:02Z stamp 2026-05-01T22:59:07 -> 2026-05-01T05:59:07Z monitor-clock -61200
         2 2026-05-02T20:00:00Z clock 2026-05-02T20:00:00
         2 2026-05-02T20:00:02Z stamp 2026-05-02T12:00:00 -> unknown
         2 2026-05-02T20:00:03Z stamp 2026-05-02T19:59:10 -> 2026-05-02T19:59:10Z monitor-clock +0
         3 2026-05-05T20:00:00Z clock 2026-05-05T20:00:00
         3 2026-05-05T20:00:02Z stamp 2026-05-05T07:06:00 -> 2026-05-05T07:06:00Z monitor-clock +0",
    );
}

#[test]
fn an_offset_clock_that_somebody_set_right_is_right() {
    // Two hours ahead, seen live after a read; then set to the wall clock by hand. No read tells.
    settles(
        "Europe/Berlin",
        "1 2026-06-01T08:00:00+02:00 clock 2026-06-01T10:00:00
         1 2026-06-01T08:00:02+02:00 stamp 2026-06-01T09:59:07 -> 2026-06-01T07:59:07+02:00 monitor-clock -7200
         2 2026-06-02T08:00:02+02:00 stamp 2026-06-02T10:00:00 -> 2026-06-02T08:00:00+02:00 monitor-clock -7200
         3 2026-06-03T08:00:02+02:00 stamp 2026-06-03T08:00:00 -> 2026-06-03T08:00:00+02:00 monitor-clock +0
         4 2026-06-04T08:00:02+02:00 stamp 2026-06-03T20:00:00 -> 2026-06-03T20:00:00+02:00 known-offset +0",
    );
}

#[test]
fn stored_after_somebody_set_a_slow_clock_right_is_taken_for_the_wall_clock() {
    // What was known would put it in the future.
    settles(
        "+00:00",
        "1 2026-06-01T08:00:00Z clock 2026-06-01T07:00:00
         1 2026-06-01T08:00:02Z stamp 2026-06-01T06:59:07 -> 2026-06-01T07:59:07Z monitor-clock +3600
         2 2026-06-02T08:20:02Z stamp 2026-06-02T08:00:07 -> 2026-06-02T08:00:07Z wall-clock +0",
    );
}

#[test]
fn a_coincidence_costs_one_reading_and_no_more() {
    // Two hours ahead, and a record that comes two hours late, to the minute: it looks as if the clock had been set
    // right. The next live reading says that it was not.
    settles(
        "+00:00",
        "1 2026-06-01T08:00:00Z clock 2026-06-01T10:00:00
         1 2026-06-01T08:00:02Z stamp 2026-06-01T09:59:07 -> 2026-06-01T07:59:07Z monitor-clock -7200
         2 2026-06-02T10:00:09Z stamp 2026-06-02T10:00:03 -> 2026-06-02T10:00:03Z monitor-clock +0
         3 2026-06-02T11:00:09Z stamp 2026-06-02T13:00:03 -> 2026-06-02T11:00:03Z monitor-clock -7200",
    );
}

// ---- summer time and moves -----------------------------------------------------------------------------------------

#[test]
fn a_monitor_that_knows_no_summer_time_stays_right_in_spring() {
    for (zone, winter, summer, before, after) in [
        ("Europe/Berlin", "+01:00", "+02:00", "2026-03-28", "2026-03-29"),
        ("America/New_York", "-05:00", "-04:00", "2026-03-07", "2026-03-08"),
        ("Australia/Sydney", "+10:00", "+11:00", "2026-10-03", "2026-10-04"),
    ] {
        settles(
            zone,
            &format!(
                "1 {before}T20:00:05{winter} stamp {before}T20:00:01 -> {before}T20:00:01{winter} monitor-clock +0
                 2 {after}T08:00:05{summer} stamp {after}T07:00:01 -> {after}T08:00:01{summer} monitor-clock +3600
                 3 {after}T20:00:05{summer} stamp {after}T08:00:00 -> {after}T09:00:00{summer} known-offset +3600"
            ),
        );
    }
}

#[test]
fn a_monitor_that_knows_no_summer_time_stays_right_in_autumn() {
    for (zone, summer, winter, before, after) in [
        ("Europe/Berlin", "+02:00", "+01:00", "2026-10-24", "2026-10-25"),
        ("America/New_York", "-04:00", "-05:00", "2026-10-31", "2026-11-01"),
        ("Australia/Sydney", "+11:00", "+10:00", "2026-04-04", "2026-04-05"),
    ] {
        settles(
            zone,
            &format!(
                "1 {before}T20:00:05{summer} stamp {before}T20:00:01 -> {before}T20:00:01{summer} monitor-clock +0
                 2 {after}T08:00:05{winter} stamp {after}T09:00:01 -> {after}T08:00:01{winter} monitor-clock -3600
                 3 {after}T20:00:05{winter} stamp {after}T10:00:00 -> {after}T09:00:00{winter} known-offset -3600"
            ),
        );
    }
}

#[test]
fn half_an_hour_of_summer_time() {
    settles(
        "Australia/Lord_Howe",
        "1 2026-04-04T20:00:05+11:00 stamp 2026-04-04T20:00:01 -> 2026-04-04T20:00:01+11:00 monitor-clock +0
         2 2026-04-05T08:00:05+10:30 stamp 2026-04-05T08:30:01 -> 2026-04-05T08:00:01+10:30 monitor-clock -1800",
    );
}

#[test]
fn a_monitor_put_forward_with_the_household_is_right_on_both_sides() {
    settles(
        "Europe/Berlin",
        "1 2026-03-27T20:00:05+01:00 stamp 2026-03-27T20:00:01 -> 2026-03-27T20:00:01+01:00 monitor-clock +0
         # Sunday evening, after somebody put it forward; Saturday's reading was still inside.
         2 2026-03-29T20:00:03+02:00 stamp 2026-03-28T20:00:01 -> 2026-03-28T20:00:01+01:00 known-offset +0
         2 2026-03-29T20:00:05+02:00 stamp 2026-03-29T20:00:01 -> 2026-03-29T20:00:01+02:00 monitor-clock +0",
    );
}

#[test]
fn a_monitor_put_back_with_the_household_is_right_on_both_sides() {
    settles(
        "Europe/Berlin",
        "1 2026-10-23T20:00:05+02:00 stamp 2026-10-23T20:00:01 -> 2026-10-23T20:00:01+02:00 monitor-clock +0
         2 2026-10-25T20:00:03+01:00 stamp 2026-10-24T20:00:01 -> 2026-10-24T20:00:01+02:00 known-offset +0
         2 2026-10-25T20:00:05+01:00 stamp 2026-10-25T20:00:01 -> 2026-10-25T20:00:01+01:00 monitor-clock +0",
    );
}

#[test]
fn a_readable_clock_put_forward_with_the_household_is_right_on_both_sides() {
    settles(
        "Europe/Berlin",
        "1 2026-03-27T20:00:00+01:00 clock 2026-03-27T20:00:00
         1 2026-03-27T20:00:05+01:00 stamp 2026-03-27T19:59:01 -> 2026-03-27T19:59:01+01:00 monitor-clock +0
         2 2026-03-29T20:00:00+02:00 clock 2026-03-29T20:00:00
         2 2026-03-29T20:00:03+02:00 stamp 2026-03-28T20:00:01 -> 2026-03-28T20:00:01+01:00 known-offset +0
         2 2026-03-29T20:00:05+02:00 stamp 2026-03-29T19:59:01 -> 2026-03-29T19:59:01+02:00 monitor-clock +0",
    );
}

#[test]
fn a_record_of_the_night_of_the_change_that_comes_late_keeps_its_moment() {
    // Twelve hours late over the change: the monitor's own clock ran on.
    settles(
        "Europe/Berlin",
        "1 2026-10-24T20:00:05+02:00 stamp 2026-10-24T20:00:01 -> 2026-10-24T20:00:01+02:00 monitor-clock +0
         2 2026-10-25T13:00:05+01:00 stamp 2026-10-25T02:30:00 -> 2026-10-25T02:30:00+02:00 known-offset +0
         2 2026-10-25T13:00:06+01:00 stamp 2026-10-25T03:30:00 -> 2026-10-25T02:30:00+01:00 known-offset -3600",
    );
}

#[test]
fn the_hour_that_comes_twice_is_told_by_a_live_receipt() {
    settles(
        "Europe/Berlin",
        "1 2026-10-25T02:30:05+01:00 stamp 2026-10-25T02:30:01 -> 2026-10-25T02:30:01+01:00 monitor-clock +0",
    );
    settles(
        "Europe/Berlin",
        "1 2026-10-25T02:30:05+02:00 stamp 2026-10-25T02:30:01 -> 2026-10-25T02:30:01+02:00 monitor-clock +0",
    );
}

#[test]
fn the_hour_that_comes_twice_and_the_hour_that_never_comes_with_nothing_known() {
    settles(
        "Europe/Berlin",
        "1 2026-10-26T08:00:00+01:00 stamp 2026-10-25T02:30:01 -> 2026-10-25T02:30:01+02:00 wall-clock +0",
    );
    settles(
        "Europe/Berlin",
        "1 2026-03-30T08:00:00+02:00 stamp 2026-03-29T02:30:01 -> 2026-03-29T03:30:01+02:00 wall-clock +0",
    );
}

#[test]
fn a_household_that_moves_and_takes_the_monitor_along_unchanged() {
    let household = zoned(&[
        ("Europe/Berlin", None),
        ("America/New_York", Some("2026-05-10T12:00:00Z")),
    ]);
    settles_in(
        &household,
        "1 2026-05-09T08:00:05+02:00 stamp 2026-05-09T08:00:01 -> 2026-05-09T08:00:01+02:00 monitor-clock +0
         2 2026-05-11T08:00:05-04:00 stamp 2026-05-11T14:00:01 -> 2026-05-11T08:00:01-04:00 monitor-clock -21600
         3 2026-05-11T20:00:05-04:00 stamp 2026-05-11T15:00:01 -> 2026-05-11T09:00:01-04:00 known-offset -21600",
    );
}

#[test]
fn a_household_that_moves_and_sets_the_monitor_there() {
    let household = zoned(&[
        ("Europe/Berlin", None),
        ("America/New_York", Some("2026-05-10T12:00:00Z")),
    ]);
    settles_in(
        &household,
        "1 2026-05-09T08:00:05+02:00 stamp 2026-05-09T08:00:01 -> 2026-05-09T08:00:01+02:00 monitor-clock +0
         2 2026-05-11T08:00:03-04:00 stamp 2026-05-09T20:00:01 -> 2026-05-09T20:00:01+02:00 known-offset +0
         2 2026-05-11T08:00:05-04:00 stamp 2026-05-11T08:00:01 -> 2026-05-11T08:00:01-04:00 monitor-clock +0",
    );
    // Nothing known: each stamp by the zone that held then.
    settles_in(
        &household,
        "1 2026-05-11T20:00:03-04:00 stamp 2026-05-09T20:00:01 -> 2026-05-09T20:00:01+02:00 wall-clock +0
         1 2026-05-11T20:00:05-04:00 stamp 2026-05-11T08:00:01 -> 2026-05-11T08:00:01-04:00 wall-clock +0",
    );
}

// ---- whole minutes -------------------------------------------------------------------------------------------------

#[test]
fn whole_minutes_are_marked_until_seconds_are_seen() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:58Z stamp 2026-05-01T08:00:00 -> 2026-05-01T08:00:00Z monitor-clock +0 minute
         2 2026-05-01T08:02:10Z stamp 2026-05-01T08:02:00 -> 2026-05-01T08:02:00Z monitor-clock +0 minute
         3 2026-05-01T20:02:10Z stamp 2026-05-01T20:00:17 -> 2026-05-01T20:00:17Z monitor-clock +0
         4 2026-05-02T08:02:10Z stamp 2026-05-02T08:02:00 -> 2026-05-02T08:02:00Z monitor-clock +0",
    );
}

#[test]
fn whole_minutes_rounded_up_are_not_in_the_future() {
    let readings = settles(
        "+00:00",
        "1 2026-05-01T08:00:33Z clock 2026-05-01T08:00:33
         1 2026-05-01T08:00:35Z stamp 2026-05-01T08:01:00 -> 2026-05-01T08:01:00Z monitor-clock +0 minute",
    );
    assert_eq!(readings[0].time.precision, Precision::Minute);
}

#[test]
fn whole_minutes_lose_no_time_to_drift_that_is_not_there() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:58Z stamp 2026-05-01T08:00:00 -> 2026-05-01T08:00:00Z monitor-clock +0 minute
         2 2026-05-02T08:01:40Z stamp 2026-05-02T08:00:00 -> 2026-05-02T08:00:00Z monitor-clock +0 minute",
    );
}

// ---- no stamps -----------------------------------------------------------------------------------------------------

#[test]
fn single_readings_without_stamp_take_their_receipt() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:58.250Z no-stamp -> 2026-05-01T08:00:58.25Z receipt +0
         1 2026-05-01T08:02:10Z no-stamp -> 2026-05-01T08:02:10Z receipt +0",
    );
}

#[test]
fn several_at_once_without_stamp_were_stored() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:58Z no-stamp -> unknown
         1 2026-05-01T08:00:59Z no-stamp -> unknown
         1 2026-05-01T08:01:18Z no-stamp -> unknown
         1 2026-05-01T08:01:38Z no-stamp -> 2026-05-01T08:01:38Z receipt +0",
    );
}

// ---- the enhanced characteristic -----------------------------------------------------------------------------------

#[test]
fn a_base_time_in_utc_is_recognised_live() {
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:05+02:00 base 2026-05-01T06:00:01 -> 2026-05-01T08:00:01+02:00 monitor-clock +7200
         2 2026-05-02T08:00:05+02:00 base 2026-05-01T18:00:01 -> 2026-05-01T20:00:01+02:00 known-offset +7200",
    );
}

#[test]
fn a_base_time_is_held_against_the_base_clock() {
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:00+02:00 clock 2026-05-01T08:30:00
         1 2026-05-01T08:00:00+02:00 device-time 2010-01-01T12:00:00
         1 2026-05-01T08:00:05+02:00 base 2010-01-01T11:59:09 2026-05-01T08:29:09 -> 2026-05-01T07:59:09+02:00 monitor-clock +515271600",
    );
}

#[test]
fn a_base_clock_that_says_it_is_at_fault_is_not_believed() {
    settles(
        "+00:00",
        "1 2026-05-01T08:00:00Z faulty-device-time 2010-01-01T12:00:00
         1 2026-05-01T08:00:05Z base 2026-05-01T08:00:01 -> 2026-05-01T08:00:01Z monitor-clock +0",
    );
}

#[test]
fn a_displayed_time_is_held_against_the_displayed_clock() {
    settles(
        "Europe/Berlin",
        "1 2026-05-01T08:00:00+02:00 clock 2026-05-01T08:30:00
         1 2026-05-01T08:00:05+02:00 base 2010-01-01T11:59:09 2026-05-01T08:29:09 -> 2026-05-01T07:59:09+02:00 monitor-clock -1800",
    );
}

// ---- a person's word -----------------------------------------------------------------------------------------------

#[test]
fn a_persons_word_outranks_the_clock_and_can_be_taken_back() {
    let mut household = zoned(&[("+00:00", None)]);
    let heard = "1 2026-05-01T08:00:05Z zero-stamp";
    let id = settles_in(&household, &format!("{heard} -> unknown"))[0]
        .id
        .clone();
    household.apply(&Statement::Timed {
        reading: id.0.clone(),
        measured_at: Some("2026-05-01T07:45:00Z".parse().unwrap()),
    });
    settles_in(&household, &format!("{heard} -> 2026-05-01T07:45:00Z stated +0"));
    household.apply(&Statement::Timed {
        reading: id.0,
        measured_at: None,
    });
    settles_in(&household, &format!("{heard} -> unknown"));
}

#[test]
fn a_receipt_by_a_clock_that_was_not_known_to_be_right_vouches_for_nothing_and_teaches_nothing() {
    use crate::reading::table::{civil, moment};
    use quietcuff::reading::TimeSource::{KnownOffset, MonitorClock, Unknown, WallClock};
    use quietcuff::reading::clock::{Axis, KnownClocks, Receipts, Stamp, TimeTold, ToldOfTime, settle};
    let household = zoned(&[("+00:00", None)]);
    let zones = crate::reading::table::zones(&household);
    let heard = |at: &str, told| ToldOfTime {
        received_at: moment(at),
        told,
    };
    let clock = |shown| TimeTold::Clock {
        axis: Axis::Local,
        civil: civil(shown),
    };
    let stamp = |shown| TimeTold::Stamp(Stamp::Local(civil(shown)));
    let right = [
        heard("2026-05-01T08:00:05Z", clock("2026-05-01T08:00:05")),
        heard("2026-05-01T08:00:06Z", stamp("2026-05-01T08:00:01")),
    ];
    let (times, known) = settle(&right, Receipts::Known, &KnownClocks::default(), &zones);
    assert_eq!(times[0].source, MonitorClock);
    // A day behind the truth: the stamp stands by what was known, whatever this gateway's clock makes of it.
    let wrong = [
        heard("2026-05-01T09:00:05Z", clock("2026-05-02T09:00:05")),
        heard("2026-05-01T09:00:06Z", stamp("2026-05-02T09:00:01")),
        heard("2026-05-01T09:00:07Z", TimeTold::NoStamp),
        heard("2026-05-01T09:00:08Z", stamp("2101-05-02T09:00:01")),
    ];
    let (times, after) = settle(&wrong, Receipts::Unsure, &known, &zones);
    assert_eq!(after, known);
    let made: Vec<_> = times.iter().map(|time| (time.at, time.source)).collect();
    assert_eq!(
        made,
        [
            (Some(moment("2026-05-02T09:00:01Z")), KnownOffset),
            (None, Unknown),
            (None, Unknown)
        ]
    );
    // Of a monitor that was never heard before nobody knows which of the two is wrong: by the household's clock its
    // stamp lies in the future of such a receipt, and before one that is not so wrong it stands by that clock.
    let (times, after) = settle(&wrong[..2], Receipts::Unsure, &KnownClocks::default(), &zones);
    assert_eq!(after.local, None);
    assert_eq!((times[0].at, times[0].source), (None, Unknown));
    let ahead = [
        heard("2026-05-03T15:00:05Z", clock("2026-05-02T09:00:05")),
        heard("2026-05-03T15:00:06Z", stamp("2026-05-02T09:00:01")),
    ];
    let (times, _) = settle(&ahead, Receipts::Unsure, &KnownClocks::default(), &zones);
    let made = (times[0].at, times[0].source);
    assert_eq!(made, (Some(moment("2026-05-02T09:00:01Z")), WallClock));
}
