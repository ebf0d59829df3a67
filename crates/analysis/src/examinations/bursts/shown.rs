//! The efforts in a sentence, and the hardest of them as plots.

use super::found::{Bursts, Effort};
use super::scene::{Scene, steps_of};
use crate::examinations::integral::{Integral, secs};
use crate::examinations::words;
use crate::outcome::{Ink, Plot};
use crate::stats::intervals::{excludes, interval_95};
use units::{Series, Timestamp};

pub(super) fn sentence(bursts: &Bursts) -> String {
    let efforts = bursts.efforts.len();
    if bursts.ratios.is_empty() {
        return format!(
            "{efforts} effort was ridden; peaks are listed, but one effort has no uncertainty: \
             ride at least three."
        );
    }
    let parts: Vec<String> = bursts
        .ratios
        .iter()
        .map(|r| {
            let interval = interval_95(r.ratio);
            let shown = if excludes(interval, 1.0) {
                ""
            } else {
                " (not shown to differ)"
            };
            format!(
                "{:.0} s {} %{shown}",
                r.seconds,
                words::signed(100.0 * (r.ratio.value - 1.0), 1)
            )
        })
        .collect();
    let work = bursts.work_ratio.map_or(String::new(), |work| {
        format!(
            "; work until the flywheel is as fast as before {} %",
            words::signed(100.0 * (work.value - 1.0), 1)
        )
    });
    format!(
        "Peaks of {efforts} efforts, device against reference: {}{work}.",
        parts.join(", ")
    )
}

pub(super) fn plots(scene: &Scene<'_>, bursts: &Bursts) -> Vec<Plot> {
    let hardest = bursts.efforts.iter().max_by(|a, b| {
        let top = |effort: &Effort| effort.peaks.first().map_or(0.0, |peak| peak.reference_w);
        top(a).total_cmp(&top(b))
    });
    let Some(effort) = hardest else {
        return Vec::new();
    };
    let onset_s = secs(effort.onset);
    let (from, to) = (
        Timestamp::from_secs_f64(onset_s - 4.0),
        Timestamp::from_secs_f64(onset_s + 25.0),
    );
    let stepped = |series: &Series| -> Vec<[f64; 2]> {
        let range = series.range(from, to);
        let mut points: Vec<[f64; 2]> = Vec::new();
        for index in range {
            let at_s = secs(series.times()[index]) - onset_s;
            if let Some(&[_, last]) = points.last() {
                points.push([at_s, last]);
            }
            points.push([at_s, series.values()[index]]);
        }
        points
    };
    let cumulative = |integral: &Integral| -> Vec<[f64; 2]> {
        steps_of(onset_s - 1.0, onset_s + 25.0, 0.5)
            .map(|at_s| {
                [
                    at_s - onset_s,
                    integral.over(onset_s - 1.0, at_s)[0] / 1000.0,
                ]
            })
            .collect()
    };
    vec![
        words::plot(
            "burst",
            "Hardest effort, unsmoothed",
            ["time since the onset, s", "power, W"],
            vec![
                words::line(Ink::Reference, "reference", stepped(scene.reference)),
                words::line(Ink::UnderTest, "device", stepped(scene.under_test)),
            ],
            "both on the reference's clock; values held from report to report".into(),
        ),
        words::plot(
            "burst-work",
            "Work since the onset",
            ["time since the onset, s", "work, kJ"],
            vec![
                words::line(
                    Ink::Reference,
                    "reference",
                    cumulative(scene.paired.reference),
                ),
                words::line(
                    Ink::UnderTest,
                    "device",
                    cumulative(scene.paired.under_test),
                ),
            ],
            "peaks differ by what the flywheel stores; work over a closed window does not".into(),
        ),
    ]
}
