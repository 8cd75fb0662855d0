//! The rules by the Common Expression Language, over binary floating point: one program a rule, its value named for the next.

use crate::{GIVENS, NUMBERS, Row, Rules, rules};
use cel::{Context, Program, Value};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};

pub struct Engine {
    rules: Vec<(&'static str, Program)>,
    givens: Context<'static, 'static>,
}

impl Engine {
    pub fn new() -> Engine {
        let mut givens = Context::default();
        let sound = "the name is free";
        givens.add_function("down_to", |x: f64| (x * 16.0).floor() / 16.0).expect(sound);
        givens.add_function("up", |x: f64| x.ceil()).expect(sound);
        givens.add_function("cents", |x: f64| (x * 100.0).round() / 100.0).expect(sound);
        givens.add_function("smaller", |a: f64, b: f64| a.min(b)).expect(sound);
        givens.add_function("larger", |a: f64, b: f64| a.max(b)).expect(sound);
        for (name, value) in GIVENS {
            givens.add_variable_from_value(name, value.parse::<f64>().expect("a number"));
        }
        let rules = rules().map(|(name, rule)| (name, Program::compile(rule).expect("the rules are sound"))).collect();
        Engine { rules, givens }
    }
}

impl Rules for Engine {
    fn line_total(&mut self, row: &Row) -> Decimal {
        let mut context = self.givens.new_inner_scope();
        context.add_variable_from_value("kind", row.kind());
        context.add_variable_from_value("leaded", row.leaded());
        for (name, at) in NUMBERS {
            context.add_variable_from_value(name, row.number(at).to_f64().expect("small"));
        }
        let mut last = Value::Null;
        for (name, rule) in &self.rules {
            last = rule.execute(&context).expect("the rules run");
            context.add_variable_from_value(*name, last.clone());
        }
        match last {
            Value::Float(total) => Decimal::from_f64(total).expect("an amount").round_dp(2),
            other => panic!("no amount: {other:?}"),
        }
    }
}
