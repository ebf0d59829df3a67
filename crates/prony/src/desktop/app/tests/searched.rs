//! The shelf is searched and ordered by what its sessions say of themselves.

use super::*;

#[test]
fn the_shelf_is_ordered_and_searched_by_script() {
    at_home(
        module_path!(),
        "the_shelf_is_ordered_and_searched_by_script",
        |home| {
            let shelf = home.join("data/prony/sessions");
            std::fs::create_dir_all(&shelf).expect("a folder");
            let project = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
            let names = [
                "first-look-honest",
                "level-sweep-honest",
                "level-sweep-workshop",
            ];
            for name in names {
                let file = format!("{name}.prony");
                std::fs::copy(project.join("demo-sessions").join(&file), shelf.join(&file))
                    .expect("a session");
            }
            let mut window = window();
            press(&mut window, Key::Num5);
            until(&mut window, "3 of 3 sessions");
            let scripts = |window: &Window| -> Vec<String> {
                let app = window.state().as_ref().expect("it is open");
                let scripts = app.found.iter().map(|at| app.items[*at].script.clone());
                scripts.map(Option::unwrap_or_default).collect()
            };
            click(&mut window, "Order by script");
            let rising = ["first-look", "level-sweep", "level-sweep"];
            assert_eq!(scripts(&window), rising);
            click(&mut window, "Order by script, the first on top");
            let falling = ["level-sweep", "level-sweep", "first-look"];
            assert_eq!(scripts(&window), falling);

            let field = window.get_by_label("Search the shelf");
            field.focus();
            field.type_text("script:level-sweep");
            window.step();
            until(&mut window, "2 of 3 sessions");
            assert_eq!(scripts(&window), falling[..2]);
        },
    );
}
