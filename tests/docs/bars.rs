// Four parts out of bars, planned: what examples of the modules of cut plans start from.
{
    use ovolo::cutting::solve::{Effort, Watch, solve};
    struct ToTheEnd;
    impl Watch for ToTheEnd {
        fn go_on(&self, _done: u64, _of: u64) -> bool {
            true
        }
    }
    let file = r#"{"kind": "1d", "unit": "in", "kerf": 0,
        "stock": [{"length": 96, "cost": 5}], "parts": [{"length": 40, "count": 4}]}"#;
    let problem = ovolo::cutting::instance::read(file, "bars.json").expect("a problem");
    let plan = solve(&problem, Effort::USUAL, &ToTheEnd).expect("a plan");
    (problem, plan)
}
