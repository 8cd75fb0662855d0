//! Exact numbers against the General Decimal Arithmetic test cases (files `*.decTest`).
//!
//! Source: "General Decimal Arithmetic Testcases", Copyright (c) IBM Corporation 1981, 2008, version 2.59. The head of every file
//! says: experimental, may contain errors, "offered on an as-is basis". None of it is copied here. The cases are read where they
//! are installed, as by the Debian package libpython3.11-testsuite (terms: /usr/share/doc/libpython3.11-testsuite/copyright),
//! or in the folder that the environment variable OVOLO_DECTEST names. Without them the test fails.
//!
//! The cases work in decimals of a limited precision and exponent; the engine works in unlimited ratios. So each case is worked
//! exactly and then rounded once to the precision it states, which is what the arithmetic behind the cases demands. Left out by
//! rule, and counted:
//!
//! - operands or results that are no finite number, or written as bits (`#...`): the engine has no infinity and no "not a number";
//! - conditions of a limited exponent or precision: Overflow, Underflow, Subnormal, Clamped, Invalid_operation,
//!   Division_impossible, Division_undefined. Division_by_zero is kept: it has to be refused;
//! - figures past the engine's cap on digits, which has to refuse them and not give a wrong value;
//! - operations that the engine does not have (bitwise, shifts, next, logb, exp, fractional powers, log10).

use num_bigint::BigInt;
use num_rational::BigRational;
use ovolo::number::{Exact, NumError, Real, Rounding, round};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Greatest decimal exponent that can be held at all; beyond it a case is past the cap.
const MOST_EXPONENT: i64 = 1_200;

/// A finite decimal: digits times ten to the exponent.
#[derive(Clone)]
struct Decimal {
    digits: BigInt,
    exponent: i64,
}

impl Decimal {
    /// Numeric strings of the arithmetic: sign, digits with a point, exponent.
    fn read(text: &str) -> Option<Decimal> {
        let (mantissa, exponent) = match text.to_ascii_lowercase().split_once('e') {
            Some((m, e)) => (m.to_string(), e.parse::<i64>().ok()?),
            None => (text.to_string(), 0),
        };
        let (whole, part) = mantissa.split_once('.').unwrap_or((&mantissa, ""));
        let unsigned = whole.strip_prefix(['-', '+']).unwrap_or(whole);
        let number = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        if unsigned.len() + part.len() == 0 || !number(unsigned) || !number(part) {
            return None;
        }
        let digits: BigInt = format!("{unsigned}{part}").parse().ok()?;
        let digits = if whole.starts_with('-') {
            -digits
        } else {
            digits
        };
        Some(Decimal {
            digits,
            exponent: exponent - i64::try_from(part.len()).ok()?,
        })
    }

    /// `Err` past the cap on digits.
    fn exact(&self) -> Result<Exact, NumError> {
        if self.digits == BigInt::from(0) {
            return Ok(Exact::ZERO);
        }
        if self.exponent.abs() > MOST_EXPONENT {
            return Err(NumError::TooManyDigits);
        }
        Exact::from_big(BigRational::from_integer(self.digits.clone()))?
            .mul(&ten_to(self.exponent)?)
    }
}

fn ten_to(exponent: i64) -> Result<Exact, NumError> {
    Exact::int(10).pow(i32::try_from(exponent).map_err(|_| NumError::TooManyDigits)?)
}

/// The exponent of the leading digit: floor of the decimal logarithm of the size; the value is not zero.
fn leading(value: &Exact) -> Result<i64, NumError> {
    let size = value.abs();
    let big = size.to_big();
    let (n, d) = (big.numer().to_string().len(), big.denom().to_string().len());
    let mut guess = n as i64 - d as i64;
    while ten_to(guess)? > size {
        guess -= 1;
    }
    while ten_to(guess + 1)? <= size {
        guess += 1;
    }
    Ok(guess)
}

/// Rounds to so many digits.
fn to_precision(value: &Exact, precision: i64, mode: Rounding) -> Result<Exact, NumError> {
    if value.is_zero() {
        return Ok(Exact::ZERO);
    }
    value.round_to(&ten_to(leading(value)? - precision + 1)?, mode)
}

/// Rounds an irrational value to so many digits, half to even as these operations do.
fn real_to_precision(value: &Real, precision: i64) -> Result<Exact, NumError> {
    let mut at = 40;
    // A few digits tell where the leading one stands.
    let rough = loop {
        let rough = round(value, &ten_to(-at)?, Rounding::TowardZero)?;
        if !rough.is_zero() || at > MOST_EXPONENT / 2 {
            break rough;
        }
        at *= 2;
    };
    if rough.is_zero() {
        return Ok(rough);
    }
    round(
        value,
        &ten_to(leading(&rough)? - precision + 1)?,
        Rounding::HalfEven,
    )
}

#[derive(Clone)]
struct Context {
    precision: i64,
    mode: Option<Rounding>,
}

fn mode(name: &str) -> Option<Rounding> {
    Some(match name {
        "ceiling" => Rounding::Up,
        "floor" => Rounding::Down,
        "down" => Rounding::TowardZero,
        "up" => Rounding::AwayFromZero,
        "half_up" => Rounding::HalfUp,
        "half_down" => Rounding::HalfDown,
        "half_even" => Rounding::HalfEven,
        "05up" => Rounding::Up05,
        _ => return None,
    })
}

/// Works one case. `None` for an operation that the engine does not have.
fn work(
    operation: &str,
    operands: &[Decimal],
    context: &Context,
    mode: Rounding,
) -> Option<Result<Exact, NumError>> {
    let precision = context.precision;
    let value = |i: usize| operands[i].exact();
    let rounded = |r: Result<Exact, NumError>| to_precision(&r?, precision, mode);
    let two = |f: &dyn Fn(&Exact, &Exact) -> Result<Exact, NumError>| f(&value(0)?, &value(1)?);
    let whole_quotient = |m: Rounding| value(0)?.div(&value(1)?)?.round_to(&Exact::ONE, m);
    let rest = |m: Rounding| value(0)?.sub(&whole_quotient(m)?.mul(&value(1)?)?);
    let wanted = match operation {
        "add" | "subtract" | "multiply" | "divide" | "compare" | "comparesig" | "quantize"
        | "rescale" | "divideint" | "remainder" | "remaindernear" | "max" | "min" | "power" => 2,
        "fma" => 3,
        _ => 1,
    };
    if operands.len() != wanted {
        return None;
    }
    Some(match operation {
        "add" => rounded(two(&|a, b| a.add(b))),
        "subtract" => rounded(two(&|a, b| a.sub(b))),
        "multiply" => rounded(two(&|a, b| a.mul(b))),
        "divide" => rounded(two(&|a, b| a.div(b))),
        "fma" => rounded((|| value(0)?.mul(&value(1)?)?.add(&value(2)?))()),
        "plus" | "apply" | "reduce" => rounded(value(0)),
        "minus" => rounded(value(0).map(|v| v.neg())),
        "abs" => rounded(value(0).map(|v| v.abs())),
        "max" => rounded(two(&|a, b| Ok(a.max(b)))),
        "min" => rounded(two(&|a, b| Ok(a.min(b)))),
        "compare" | "comparesig" => two(&|a, b| Ok(Exact::int(a.cmp(b) as i64))),
        "quantize" => value(0).and_then(|v| v.round_to(&ten_to(operands[1].exponent)?, mode)),
        "rescale" => value(0).and_then(|v| {
            v.round_to(
                &ten_to(value(1)?.to_i64().ok_or(NumError::NotExact)?)?,
                mode,
            )
        }),
        "tointegral" | "tointegralx" => value(0).and_then(|v| v.round_to(&Exact::ONE, mode)),
        "divideint" => whole_quotient(Rounding::TowardZero),
        "remainder" => rounded(rest(Rounding::TowardZero)),
        "remaindernear" => rounded(rest(Rounding::HalfEven)),
        "squareroot" => value(0)
            .and_then(|v| real_to_precision(&Real::Root(Box::new(Real::Rat(v)), 2), precision)),
        "ln" => {
            value(0).and_then(|v| real_to_precision(&Real::Ln(Box::new(Real::Rat(v))), precision))
        }
        "power" => {
            // Whole powers only; the cases allow their last digit to be off where they are inexact, which the caller knows.
            let exponent = i32::try_from(value(1).ok()?.to_i64()?).ok()?;
            rounded(value(0).and_then(|v| v.pow(exponent)))
        }
        _ => return None,
    })
}

#[derive(Default, Clone, Copy)]
struct Count {
    held: u32,
    beyond_cap: u32,
    by_rule: u32,
}

#[derive(Default)]
struct Tally {
    counts: BTreeMap<String, Count>,
    not_ours: u32,
    differences: Vec<String>,
}

const LIMITED: &[&str] = &[
    "overflow",
    "underflow",
    "subnormal",
    "clamped",
    "invalid_operation",
    "invalid_context",
    "division_impossible",
    "division_undefined",
    "conversion_syntax",
];

/// Parts of a line, quotes taken off; a comment ends it.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut rest = line.trim();
    while !rest.is_empty() && !rest.starts_with("--") {
        let quote = rest.chars().next().filter(|c| *c == '\'' || *c == '"');
        let (word, left) = match quote {
            Some(q) => rest[1..].split_once(q).unwrap_or((&rest[1..], "")),
            None => rest.split_once(char::is_whitespace).unwrap_or((rest, "")),
        };
        words.push(word.to_string());
        rest = left.trim_start();
    }
    words
}

fn case(words: &[String], context: &Context, file: &str, tally: &mut Tally) {
    let Some(arrow) = words.iter().position(|w| w == "->") else {
        return;
    };
    let (Some(operation), Some(result)) = (words.get(1), words.get(arrow + 1)) else {
        return;
    };
    let operation = operation.to_ascii_lowercase();
    let conditions: Vec<String> = words[arrow + 2..]
        .iter()
        .map(|w| w.to_ascii_lowercase())
        .collect();
    let operands: Option<Vec<Decimal>> = words[2..arrow].iter().map(|w| Decimal::read(w)).collect();
    let by_zero = conditions.iter().any(|c| c == "division_by_zero");
    let expected = Decimal::read(result);
    // Asked first, so that operations the engine lacks are not counted as left out.
    let probe = vec![
        Decimal {
            digits: BigInt::from(1),
            exponent: 0
        };
        arrow - 2
    ];
    if work(
        &operation,
        &probe,
        &Context {
            precision: 9,
            mode: context.mode,
        },
        Rounding::HalfUp,
    )
    .is_none()
    {
        tally.not_ours += 1;
        return;
    }
    let count = tally.counts.entry(operation.clone()).or_default();
    let limited = conditions.iter().any(|c| LIMITED.contains(&c.as_str()));
    let rough_power = operation == "power" && conditions.iter().any(|c| c == "inexact");
    let (Some(operands), Some(mode)) = (operands, context.mode) else {
        count.by_rule += 1;
        return;
    };
    if limited || rough_power || (expected.is_none() && !by_zero) {
        count.by_rule += 1;
        return;
    }
    let Some(found) = work(&operation, &operands, context, mode) else {
        count.by_rule += 1;
        return;
    };
    let same = match (&found, &expected) {
        (Err(NumError::DivideByZero), _) => by_zero,
        (Err(NumError::TooManyDigits), Some(_)) => {
            count.beyond_cap += 1;
            return;
        }
        (Ok(value), Some(expected)) => expected.exact().as_ref() == Ok(value),
        _ => false,
    };
    if same {
        count.held += 1;
    } else {
        tally
            .differences
            .push(format!("{file} {}: found {found:?}", words.join(" ")));
    }
}

fn read(path: &Path, tally: &mut Tally) {
    let Ok(bytes) = std::fs::read(path) else {
        return;
    };
    let text = String::from_utf8_lossy(&bytes);
    let file = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let mut context = Context {
        precision: 9,
        mode: Some(Rounding::HalfUp),
    };
    for line in text.lines() {
        let words = words(line);
        match words
            .first()
            .and_then(|w| w.strip_suffix(':'))
            .map(str::to_ascii_lowercase)
            .as_deref()
        {
            Some("precision") => {
                context.precision = words.get(1).and_then(|w| w.parse().ok()).unwrap_or(9)
            }
            Some("rounding") => {
                context.mode = words.get(1).and_then(|w| mode(&w.to_ascii_lowercase()))
            }
            Some(_) => {}
            None => case(&words, &context, &file, tally),
        }
    }
}

/// The folder of the cases, if they are installed.
fn corpus() -> Option<PathBuf> {
    if let Some(folder) = std::env::var_os("OVOLO_DECTEST") {
        return Some(PathBuf::from(folder));
    }
    let mut found: Vec<PathBuf> = std::fs::read_dir("/usr/lib")
        .ok()?
        .flatten()
        .filter(|e| e.file_name().to_string_lossy().starts_with("python3"))
        .map(|e| e.path().join("test/decimaltestdata"))
        .filter(|p| p.is_dir())
        .collect();
    found.sort();
    found.pop()
}

#[test]
fn exact_numbers_agree_with_the_decimal_arithmetic_cases() {
    let folder = corpus().expect(
        "this test needs .decTest files: run `.ci/outside`, install libpython3.11-testsuite or set OVOLO_DECTEST to their folder",
    );
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .expect("the folder of the cases can be listed")
        .flatten()
        .map(|e| e.path())
        .filter(|p| p.extension().is_some_and(|e| e == "decTest"))
        .collect();
    files.sort();
    let mut tally = Tally::default();
    for file in &files {
        read(file, &mut tally);
    }
    println!(
        "{:14} {:>7} {:>11} {:>9}",
        "operation", "held", "past cap", "by rule"
    );
    let mut sum = Count::default();
    for (operation, c) in &tally.counts {
        println!(
            "{operation:14} {:>7} {:>11} {:>9}",
            c.held, c.beyond_cap, c.by_rule
        );
        sum.held += c.held;
        sum.beyond_cap += c.beyond_cap;
        sum.by_rule += c.by_rule;
    }
    println!(
        "{:14} {:>7} {:>11} {:>9}",
        "in all", sum.held, sum.beyond_cap, sum.by_rule
    );
    println!(
        "{} files; {} cases of operations the engine does not have; {} differences",
        files.len(),
        tally.not_ours,
        tally.differences.len()
    );
    assert!(
        tally.differences.is_empty(),
        "{}",
        tally
            .differences
            .iter()
            .take(40)
            .cloned()
            .collect::<Vec<_>>()
            .join("\n")
    );
    assert!(sum.held > 0, "the folder {} holds cases", folder.display());
}
