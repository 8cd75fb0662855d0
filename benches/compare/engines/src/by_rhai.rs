//! The rules by Rhai, over 28-digit decimals: one script of as many statements as there are rules.

use crate::{GIVENS, NUMBERS, Row, Rules, rules};
use rhai::{AST, Scope};
use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy::MidpointAwayFromZero;

pub struct Engine {
    engine: rhai::Engine,
    script: AST,
    scope: Scope<'static>,
}

impl Engine {
    pub fn new() -> Engine {
        let mut engine = rhai::Engine::new();
        engine.register_fn("down_to", |x: Decimal| (x * Decimal::from(16)).floor() / Decimal::from(16));
        engine.register_fn("up", |x: Decimal| x.ceil());
        engine.register_fn("cents", |x: Decimal| x.round_dp_with_strategy(2, MidpointAwayFromZero));
        engine.register_fn("smaller", |a: Decimal, b: Decimal| a.min(b));
        engine.register_fn("larger", |a: Decimal, b: Decimal| a.max(b));
        let mut scope = Scope::new();
        for (name, value) in GIVENS {
            scope.push_constant(name, value.parse::<Decimal>().expect("a number"));
        }
        let script: String = rules().map(|(name, rule)| format!("let {name} = {};\n", choices(rule))).collect();
        let script = engine.compile(script + "line_total").expect("the rules are sound");
        Engine { engine, script, scope }
    }
}

/// `a ? b : c` in Rhai's words.
fn choices(rule: &str) -> String {
    match rule.split_once(" ? ") {
        Some((test, rest)) => {
            let (yes, no) = rest.split_once(" : ").expect("a choice has two ends");
            format!("if {test} {{ {yes} }} else {{ {} }}", choices(no))
        }
        None => rule.to_owned(),
    }
}

impl Rules for Engine {
    fn line_total(&mut self, row: &Row) -> Decimal {
        self.scope.rewind(GIVENS.len());
        self.scope.push("kind", row.kind().to_owned());
        self.scope.push("leaded", row.leaded());
        for (name, at) in NUMBERS {
            self.scope.push(name, row.number(at));
        }
        self.engine.eval_ast_with_scope(&mut self.scope, &self.script).expect("the rules run")
    }
}
