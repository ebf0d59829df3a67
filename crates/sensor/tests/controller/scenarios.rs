//! One script for each thing that can go wrong with a control point.

use crate::talk::{play, tidy};
use sensor::control::ControlMode;

const POWER: ControlMode = ControlMode::Power { lowest_w: 0 };

/// Gets control, starts and sets 200 W; ends at 150 ms.
const LOADED: &str = "
    0 want 200 W
    > 0 writes 00
    10 ok
    50 says 80 00 01
    > 50 control granted
    > 50 writes 07
    60 ok
    100 says 80 07 01
    > 100 writes 05 c8 00
    110 ok
    150 says 80 05 01
    > 150 200 W confirmed after 50 ms
";

fn check(mode: ControlMode, script: &str) {
    pretty(&play(mode, script), &tidy(script));
}

/// After [`LOADED`].
fn check_loaded(script: &str) {
    check(POWER, &format!("{LOADED}\n{script}"));
}

fn pretty(got: &str, wanted: &str) {
    assert!(got == wanted, "--- got\n{got}--- wanted\n{wanted}");
}

#[test]
fn control_is_requested_then_started_then_loaded_then_released() {
    check_loaded(
        "150 state
         > 200 W, confirmed, in control
         1000 want release
         > 1000 writes 05 00 00
         1010 ok
         1050 says 80 05 01
         > 1050 release confirmed after 50 ms
         1050 state
         > release, confirmed, released, in control
         90000 wait",
    );
}

#[test]
fn what_is_confirmed_is_not_written_again() {
    check_loaded(
        "200 want 200 W
         300 want 200 W
         400 want release
         > 400 writes 05 00 00
         450 says 80 05 01
         > 450 release confirmed after 50 ms
         500 want release
         60000 wait",
    );
}

#[test]
fn the_newest_of_several_demands_wins() {
    check_loaded(
        "200 want 210 W
         > 200 writes 05 d2 00
         210 want 220 W
         220 want 230 W
         250 says 80 05 01
         > 250 210 W confirmed after 50 ms
         > 250 writes 05 e6 00
         300 says 80 05 01
         > 300 230 W confirmed after 50 ms
         9000 wait",
    );
}

#[test]
fn a_start_that_is_not_needed_or_not_known_is_no_refusal() {
    for result in ["01", "02", "03", "04"] {
        check(
            POWER,
            &format!(
                "0 want 200 W
                 > 0 writes 00
                 50 says 80 00 01
                 > 50 control granted
                 > 50 writes 07
                 100 says 80 07 {result}
                 > 100 writes 05 c8 00
                 150 says 80 05 01
                 > 150 200 W confirmed after 50 ms"
            ),
        );
    }
}

#[test]
fn an_answer_may_be_read_before_the_acknowledgement_of_its_write() {
    check(
        POWER,
        "0 want 200 W
         > 0 writes 00
         50 says 80 00 01
         > 50 control granted
         > 50 writes 07
         51 ok
         100 says 80 07 01
         > 100 writes 05 c8 00
         101 error 0e
         110 ok
         150 says 80 05 01
         > 150 200 W confirmed after 50 ms",
    );
}

#[test]
fn a_refused_load_is_told_in_words_and_tried_again_only_when_wanted_again() {
    for (result, words) in [
        ("02", "op code not supported"),
        ("03", "invalid parameter"),
        ("04", "operation failed"),
        ("07", "reserved result 0x07"),
    ] {
        check_loaded(&format!(
            "200 want 900 W
             > 200 writes 05 84 03
             250 says 80 05 {result}
             > 250 900 W refused: {words}
             20000 wait
             20000 state
             > 900 W, in control
             20001 want 900 W
             > 20001 writes 05 84 03
             20050 says 80 05 01
             > 20050 900 W confirmed after 49 ms"
        ));
    }
}

#[test]
fn without_control_it_is_requested_again_and_the_load_given_up_after_four_tries() {
    check_loaded(
        "1000 want 210 W
         > 1000 writes 05 d2 00
         1050 says 80 05 05
         > 1350 writes 00
         1400 says 80 00 01
         > 1400 control granted
         > 1400 writes 07
         1450 says 80 07 04
         > 1450 writes 05 d2 00
         1500 says 80 05 05
         > 2100 writes 00
         2200 says 80 00 01
         > 2200 control granted
         > 2200 writes 07
         2250 says 80 07 05
         > 3450 writes 00
         3500 says 80 00 01
         > 3500 control granted
         > 3500 writes 07
         3550 says 80 07 04
         > 3550 writes 05 d2 00
         3600 says 80 05 05
         > 3600 210 W refused: given up after 4 tries: control not permitted
         60000 wait",
    );
}

#[test]
fn control_that_is_refused_is_told_once_and_asked_for_again() {
    check(
        POWER,
        "0 want 200 W
         > 0 writes 00
         50 says 80 00 05
         > 50 request control refused: control not permitted
         > 2050 writes 00
         2100 says 80 00 05
         > 4100 writes 00
         4150 says 80 00 01
         > 4150 control granted
         > 4150 writes 07
         4200 says 80 07 01
         > 4200 writes 05 c8 00",
    );
}

#[test]
fn a_trainer_that_does_not_know_the_request_is_controlled_without() {
    check(
        POWER,
        "0 want 200 W
         > 0 writes 00
         50 says 80 00 02
         > 50 writes 07
         100 says 80 07 02
         > 100 writes 05 c8 00
         150 says 80 05 01
         > 150 200 W confirmed after 50 ms",
    );
}

/// The codes 0xFE and 0xFD, and 0x80 and 0x81 from before they had numbers.
#[test]
fn a_write_that_is_turned_away_is_tried_again_and_then_told() {
    for (code, words) in [
        (
            "fe",
            "attribute error 0xFE; it is still busy with the procedure before",
        ),
        (
            "80",
            "attribute error 0x80; it is still busy with the procedure before",
        ),
        (
            "fd",
            "attribute error 0xFD; its indications are not switched on; subscribe to the control \
             point again",
        ),
        (
            "81",
            "attribute error 0x81; its indications are not switched on; subscribe to the control \
             point again",
        ),
    ] {
        check_loaded(&format!(
            "1000 want 210 W
             > 1000 writes 05 d2 00
             1010 error {code}
             1050 want 210 W
             > 1310 writes 00
             1320 ok
             1350 says 80 00 01
             > 1350 control granted
             > 1350 writes 05 d2 00
             1360 error {code}
             > 1360 210 W could not be written: {words}
             > 1960 writes 00
             1970 ok
             2000 says 80 00 01
             > 2000 control granted
             > 2000 writes 05 d2 00
             2010 ok
             2050 says 80 05 01
             > 2050 210 W confirmed after 50 ms"
        ));
    }
}

#[test]
fn a_load_that_cannot_be_written_is_given_up_and_a_release_never() {
    check_loaded(
        "1000 want 210 W
         > 1000 writes 05 d2 00
         1000 error 0e
         > 1300 writes 00
         1300 error 0e
         > 1300 request control could not be written: attribute error 0x0E
         > 1900 writes 00
         1900 error 0e
         > 3100 writes 00
         3100 error 0e
         > 3100 210 W refused: given up after 4 tries: attribute error 0x0E
         20000 want release
         > 20000 writes 00
         20000 error 0e
         > 20000 request control could not be written: attribute error 0x0E
         > 20300 writes 00
         20300 error 0e
         > 20900 writes 00
         20900 error 0e
         > 22100 writes 00
         22100 error 0e
         > 24100 writes 00
         24100 error 0e
         > 26100 writes 00
         26100 ok
         26150 says 80 00 01
         > 26150 control granted
         > 26150 writes 05 00 00
         26200 says 80 05 01
         > 26200 release confirmed after 50 ms",
    );
}

/// An answer has no number: the first one after the release may be that of the load.
#[test]
fn a_release_overtakes_and_the_answer_of_the_load_does_not_confirm_it() {
    check_loaded(
        "1000 want 400 W
         > 1000 writes 05 90 01
         1010 ok
         1100 want release
         > 1250 writes 05 00 00
         1260 says 80 05 01
         1260 state
         > release, in control
         1270 error fe
         > 1270 release could not be written: attribute error 0xFE; it is still busy with the procedure before
         > 1570 writes 00
         1600 says 80 00 01
         > 1600 control granted
         > 1600 writes 05 00 00
         1650 says 80 05 01
         > 1650 release confirmed after 50 ms",
    );
}

#[test]
fn a_release_overtakes_a_procedure_that_is_never_answered_and_is_repeated() {
    check_loaded(
        "1000 want 400 W
         > 1000 writes 05 90 01
         2000 want release
         > 2000 writes 05 00 00
         > 2300 writes 05 00 00
         > 2900 writes 05 00 00
         > 4100 writes 05 00 00
         4150 says 80 05 01
         > 4400 writes 05 00 00
         4450 says 80 05 01
         > 4450 release confirmed after 50 ms
         100000 wait",
    );
}

#[test]
fn a_release_that_is_wanted_again_is_repeated_sooner_but_not_at_once() {
    check_loaded(
        "1000 want release
         > 1000 writes 05 00 00
         1010 want release
         1020 want release
         > 1300 writes 05 00 00
         > 1900 writes 05 00 00
         2000 want release
         > 2200 writes 05 00 00
         2250 says 80 05 01
         > 2250 release confirmed after 50 ms",
    );
}

#[test]
fn a_refused_release_is_tried_by_the_reset_that_every_machine_knows() {
    check_loaded(
        "1000 want release
         > 1000 writes 05 00 00
         1050 says 80 05 03
         > 1050 release refused: invalid parameter
         > 1350 writes 01
         1400 says 80 01 01
         > 1400 release confirmed after 50 ms
         1500 want 200 W
         > 1500 writes 00
         1550 says 80 00 01
         > 1550 control granted
         > 1550 writes 07
         1600 says 80 07 01
         > 1600 writes 05 c8 00",
    );
}

#[test]
fn a_release_waits_for_no_earlier_back_off_but_a_load_does() {
    check_loaded(
        "1000 want 210 W
         > 1000 writes 05 d2 00
         1010 error fe
         1020 want 220 W
         1030 want release
         > 1030 writes 00
         1040 ok
         1050 says 80 00 01
         > 1050 control granted
         > 1050 writes 05 00 00
         1060 error fe
         > 1060 release could not be written: attribute error 0xFE; it is still busy with the procedure before
         1100 want 230 W
         > 1360 writes 00
         1370 wait",
    );
}

#[test]
fn permission_taken_back_brings_nothing_but_a_release() {
    check_loaded(
        "1000 status ff
         > 1000 control lost: the trainer took it back
         > 1000 writes 00
         1050 says 80 00 01
         > 1050 control granted
         > 1050 writes 05 00 00
         1100 says 80 05 01
         > 1100 release confirmed after 50 ms
         60000 wait
         60000 state
         > release, confirmed, released, in control",
    );
}

#[test]
fn permission_taken_back_forgets_the_load_that_was_under_way() {
    check_loaded(
        "1000 want 400 W
         > 1000 writes 05 90 01
         1010 status ff
         > 1010 control lost: the trainer took it back
         > 1010 writes 00
         1050 says 80 00 01
         > 1050 control granted
         > 1050 writes 05 00 00
         1060 says 80 05 05
         > 1350 writes 05 00 00
         1400 says 80 05 01
         > 1400 release confirmed after 50 ms
         60000 wait",
    );
}

#[test]
fn a_lost_link_forgets_every_load_and_releases_when_it_is_back() {
    check_loaded(
        "1000 want 400 W
         > 1000 writes 05 90 01
         1010 down
         > 1010 control lost: the link is down
         1020 want 300 W
         > 1020 300 W not kept: there is no link
         1030 says 80 05 01
         40000 up
         > 40000 writes 00
         40010 error 0e
         > 40010 request control could not be written: attribute error 0x0E
         > 40310 writes 00
         40350 says 80 00 01
         > 40350 control granted
         > 40350 writes 05 00 00
         40400 says 80 05 01
         > 40400 release confirmed after 50 ms
         90000 wait",
    );
}

#[test]
fn a_link_that_comes_up_twice_is_a_new_one() {
    check_loaded(
        "1000 up
         > 1000 control lost: the link was made anew
         > 1000 writes 00
         1050 says 80 00 01
         > 1050 control granted
         > 1050 writes 05 00 00
         1100 says 80 05 01
         > 1100 release confirmed after 50 ms",
    );
}

#[test]
fn a_release_wanted_without_a_link_is_kept() {
    check(
        POWER,
        "0 down
         > 0 control lost: the link is down
         10 want release
         5000 up
         > 5000 writes 00
         5050 says 80 00 01
         > 5050 control granted
         > 5050 writes 05 00 00",
    );
}

#[test]
fn a_first_link_needs_no_release() {
    check(
        POWER,
        "0 up
         10000 down
         > 10000 control lost: the link is down
         20000 up
         60000 wait",
    );
}

#[test]
fn without_an_answer_a_load_is_unconfirmed_then_timed_out_and_only_released() {
    check_loaded(
        "1000 want 300 W
         > 1000 writes 05 2c 01
         > 4000 300 W not confirmed within 3 s; watch the measured power
         > 31000 no answer within 30 s; the link has to be made anew
         > 31000 writes 05 00 00
         31000 state
         > release, in control, needs a new link
         31050 says 80 05 01
         > 31050 release confirmed after 50 ms
         31100 want 100 W
         > 31100 100 W refused: it has not answered for 30 s; the link has to be made anew first
         32000 up
         > 32000 control lost: the link was made anew
         32100 want 100 W
         > 32100 writes 00",
    );
}

#[test]
fn a_newer_load_overtakes_an_unconfirmed_one() {
    check_loaded(
        "1000 want 300 W
         > 1000 writes 05 2c 01
         2000 want 310 W
         > 4000 300 W not confirmed within 3 s; watch the measured power
         > 4000 writes 05 36 01
         4050 says 80 05 01
         > 4050 310 W confirmed after 50 ms
         90000 wait",
    );
}

/// Status 08, 07 and 12 report the target; the first comes early, the others late.
#[test]
fn the_trainers_own_word_confirms_what_it_never_answers() {
    check_loaded(
        "1000 want 300 W
         > 1000 writes 05 2c 01
         1080 status 08 2c 01
         > 4000 300 W confirmed after 80 ms
         5000 want slope 4
         > 5000 writes 11 00 00 90 01 28 33
         5010 status 12 00 00 91 01 28 33
         > 8000 slope 4.00 % not confirmed within 3 s; watch the measured power
         8500 status 12 00 00 90 01 28 33
         > 8500 slope 4.00 % confirmed after 3500 ms
         9000 want level 5
         > 9000 writes 04 32
         > 12000 resistance 5.0 not confirmed within 3 s; watch the measured power
         12500 status 07 32 00
         > 12500 resistance 5.0 confirmed after 3500 ms
         13000 want release
         > 13000 writes 05 00 00
         13050 status 08 00 00
         > 13300 release confirmed after 50 ms
         90000 wait",
    );
}

#[test]
fn measured_power_confirms_only_what_is_unconfirmed() {
    check_loaded(
        "1000 want 300 W
         > 1000 writes 05 2c 01
         2000 shown 300 W
         > 4000 300 W not confirmed within 3 s; watch the measured power
         4500 shown 200 W
         5000 shown 300 W
         > 5000 300 W confirmed after 4000 ms
         90000 wait",
    );
}

#[test]
fn a_trainer_that_never_answers_is_driven_all_the_same() {
    check(
        POWER,
        "0 want 200 W
         > 0 writes 00
         > 3000 no answer within 3 s
         > 3000 writes 00
         > 6000 no answer within 3 s
         > 6000 writes 07
         > 9000 no answer within 3 s
         > 9000 writes 05 c8 00
         9050 status 08 c8 00
         > 12000 200 W confirmed after 50 ms
         20000 want release
         > 20000 writes 05 00 00
         20050 status 08 00 00
         > 20300 release confirmed after 50 ms
         90000 wait",
    );
}

#[test]
fn the_safety_key_and_a_stop_take_the_load_away_but_a_pause_does_not() {
    for (status, words) in [
        ("03", "the safety key was pulled"),
        ("02 01", "stopped at the trainer"),
    ] {
        check_loaded(&format!(
            "1000 status {status}
             > 1000 control lost: {words}
             > 1000 writes 05 00 00
             1050 says 80 05 01
             > 1050 release confirmed after 50 ms
             60000 wait"
        ));
    }
    check_loaded(
        "1000 status 02 02
         1010 status 04
         2000 want 210 W
         > 2000 writes 07
         2050 says 80 07 04
         > 2050 writes 05 d2 00",
    );
}

#[test]
fn a_load_that_somebody_sets_after_the_release_is_released_again() {
    check_loaded(
        "1000 want release
         > 1000 writes 05 00 00
         1010 status 08 c8 00
         1050 says 80 05 01
         > 1050 release confirmed after 50 ms
         1060 status 08 c8 00
         1070 status 08 00 00
         9000 status 08 90 01
         > 9000 writes 05 00 00
         9050 says 80 05 01
         > 9050 release confirmed after 50 ms
         9100 status 08 00 00
         90000 wait",
    );
}

#[test]
fn other_modes_are_released_in_their_own_way() {
    for (mode, demand, load, release) in [
        (
            ControlMode::Power { lowest_w: 50 },
            "200 W",
            "05 c8 00",
            "05 32 00",
        ),
        (
            ControlMode::Power { lowest_w: 400 },
            "500 W",
            "05 f4 01",
            "01",
        ),
        (
            ControlMode::Resistance {
                lowest: 1.0,
                highest: 25.0,
            },
            "level 9",
            "04 5a",
            "04 0a",
        ),
        (
            ControlMode::Slope,
            "slope 4",
            "11 00 00 90 01 28 33",
            "11 00 00 00 00 00 00",
        ),
    ] {
        let (load_op, release_op) = (&load[..2], &release[..2]);
        let words = play(
            mode,
            &format!(
                "0 want {demand}
                 50 says 80 00 01
                 100 says 80 07 01
                 150 says 80 {load_op} 01
                 200 want release
                 250 says 80 {release_op} 01
                 250 state"
            ),
        );
        assert!(words.contains(&format!("> 100 writes {load}\n")), "{words}");
        assert!(
            words.contains(&format!("> 200 writes {release}\n")),
            "{words}"
        );
        assert!(words.contains("> release, confirmed, released"), "{words}");
    }
}

#[test]
fn a_demand_that_the_mode_cannot_carry_is_refused_in_words_and_nothing_is_written() {
    for (mode, demand, answer) in [
        (
            ControlMode::Slope,
            "level 4",
            "this trainer says that it takes no resistance level; script a slope for it",
        ),
        (
            POWER,
            "99999 W",
            "a power of 99999 does not fit its field, which goes from -32768 to 32767",
        ),
        (
            POWER,
            "NaN W",
            "a power of NaN does not fit its field, which goes from -32768 to 32767",
        ),
    ] {
        let asked = demand.replace("level 4", "resistance 4.0");
        check(
            mode,
            &format!(
                "0 want {demand}
                 > 0 {asked} refused: {answer}
                 60000 wait"
            ),
        );
    }
}

#[test]
fn a_level_stands_in_for_a_power_is_said_once_and_released_as_usual() {
    let words = play(
        ControlMode::Resistance {
            lowest: 1.0,
            highest: 25.0,
        },
        "0 want 200 W
         50 says 80 00 01
         100 says 80 07 01
         150 says 80 04 01
         160 want 200 W
         200 want release
         250 says 80 04 01
         250 state",
    );
    let said = "this trainer takes no target power: resistance 9.0 stands in for 200 W";
    assert_eq!(words.matches(said).count(), 1, "{words}");
    assert!(words.contains("> 100 writes 04 5a\n"), "{words}");
    assert!(words.contains("> 200 writes 04 0a\n"), "{words}");
    assert!(words.contains("> release, confirmed, released"), "{words}");
}

#[test]
fn bytes_that_are_no_answer_change_nothing() {
    check_loaded(
        "1000 want 210 W
         > 1000 writes 05 d2 00
         1010 says 80
         1020 says
         1030 says 81 05 01
         1040 says 80 00 01
         1050 status
         1060 status 77 01
         1070 status 08
         1080 says 80 05 01 05 06
         > 1080 210 W confirmed after 80 ms",
    );
}
