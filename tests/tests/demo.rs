//! The demo sessions: sealed, and what was concluded while riding is concluded again.

use acceptance::root;
use bench::Happening;
use session::SealState;
use units::Timestamp;

fn conclusions(list: Vec<(Timestamp, Happening)>) -> Vec<(Timestamp, Happening)> {
    list.into_iter()
        .filter(|(_, what)| !matches!(what, Happening::Rules(_)))
        .collect()
}

#[test]
fn every_demo_session_is_sealed_and_replays_to_the_same_conclusions() {
    let mut seen = 0;
    for entry in std::fs::read_dir(root().join("demo-sessions")).expect("the folder is there") {
        let path = entry.expect("it can be listed").path();
        if path
            .extension()
            .is_none_or(|extension| extension != "prony")
        {
            continue;
        }
        seen += 1;
        let report = session::verify(&path).expect("it can be read");
        assert!(
            matches!(report.state, SealState::Sealed),
            "{}: {}",
            path.display(),
            report.state
        );
        let replayed = prony::replaying::replay(&path).expect("it replays");
        assert!(
            replayed.about.is_simulated(),
            "{} does not say it is simulated",
            path.display()
        );
        assert_eq!(
            conclusions(replayed.concluded),
            conclusions(replayed.recorded),
            "{}: run `bash demo-sessions/make.sh` if the judgement changed on purpose",
            path.display()
        );
    }
    assert!(seen >= 2, "{seen} demo sessions");
}
