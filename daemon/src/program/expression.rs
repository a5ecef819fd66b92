//! Expressions, functions and parameter values (NISTIR 6556, 3.3.2.2 to 3.3.2.4).

use super::fault::Rule;
use super::number;
use super::parameters::{Parameters, index};

/// How deep brackets may nest.
const DEEPEST: u8 = 32;

/// Reads a text from the left.
pub(in crate::program) struct Cursor<'a> {
    pub text: &'a [u8],
    pub at: usize,
}

impl Cursor<'_> {
    /// Skips blanks and looks at the next byte, in upper case.
    pub fn peek(&mut self) -> Option<u8> {
        while let Some(b' ' | b'\t') = self.text.get(self.at) {
            self.at += 1;
        }
        self.text.get(self.at).map(u8::to_ascii_uppercase)
    }

    fn take(&mut self, byte: u8) -> bool {
        let there = self.peek() == Some(byte);
        if there {
            self.at += 1;
        }
        there
    }

    fn word(&mut self, word: &[u8]) -> bool {
        let before = self.at;
        for byte in word {
            if !self.take(*byte) {
                self.at = before;
                return false;
            }
        }
        true
    }
}

/// A real value: a number, a parameter, a bracketed expression or a function.
pub(in crate::program) fn value(c: &mut Cursor<'_>, p: &Parameters, depth: u8) -> Result<f64, Rule> {
    if depth > DEEPEST {
        return Err(Rule::Expression("brackets nest too deep"));
    }
    match c.peek() {
        Some(b'#') => {
            c.at += 1;
            let at = index(value(c, p, depth + 1)?).ok_or(Rule::ParameterIndex)?;
            Ok(p.get(at))
        }
        Some(b'[') => bracket(c, p, depth),
        Some(b'A'..=b'Z') => function(c, p, depth),
        Some(_) => {
            let (n, took) = number::read(c.text.get(c.at..).unwrap_or_default())
                .map_err(|_| Rule::Expression("a number, a parameter or a bracket is missing here"))?;
            c.at += took;
            Ok(n.f64())
        }
        None => Err(Rule::Expression("the expression ends too early")),
    }
}

fn bracket(c: &mut Cursor<'_>, p: &Parameters, depth: u8) -> Result<f64, Rule> {
    if !c.take(b'[') {
        return Err(Rule::Expression("an opening bracket is missing"));
    }
    let v = sum(c, p, depth + 1)?;
    if !c.take(b']') {
        return Err(Rule::Expression("a bracket is not closed"));
    }
    Ok(v)
}

/// The weakest operators: + - OR XOR AND, from the left.
fn sum(c: &mut Cursor<'_>, p: &Parameters, depth: u8) -> Result<f64, Rule> {
    let mut left = product(c, p, depth)?;
    loop {
        let truth = |b: bool| if b { 1.0 } else { 0.0 };
        left = if c.word(b"+") {
            left + product(c, p, depth)?
        } else if c.word(b"-") {
            left - product(c, p, depth)?
        } else if c.word(b"OR") {
            let right = product(c, p, depth)?;
            truth(left != 0.0 || right != 0.0)
        } else if c.word(b"XOR") {
            let right = product(c, p, depth)?;
            truth((left != 0.0) != (right != 0.0))
        } else if c.word(b"AND") {
            let right = product(c, p, depth)?;
            truth(left != 0.0 && right != 0.0)
        } else {
            return finite(left);
        };
    }
}

/// * / MOD, from the left.
fn product(c: &mut Cursor<'_>, p: &Parameters, depth: u8) -> Result<f64, Rule> {
    let mut left = power(c, p, depth)?;
    loop {
        left = if c.peek() == Some(b'*') && !starts(c, b"**") {
            c.at += 1;
            left * power(c, p, depth)?
        } else if c.word(b"/") {
            let right = power(c, p, depth)?;
            if right == 0.0 {
                return Err(Rule::Expression("division by zero"));
            }
            left / right
        } else if c.word(b"MOD") {
            let right = power(c, p, depth)?;
            if right == 0.0 {
                return Err(Rule::Expression("division by zero"));
            }
            left.rem_euclid(right)
        } else {
            return Ok(left);
        };
    }
}

fn starts(c: &mut Cursor<'_>, word: &[u8]) -> bool {
    let before = c.at;
    let there = c.word(word);
    c.at = before;
    there
}

/// The strongest operator: **, from the left.
fn power(c: &mut Cursor<'_>, p: &Parameters, depth: u8) -> Result<f64, Rule> {
    let mut left = value(c, p, depth + 1)?;
    while c.word(b"**") {
        let right = value(c, p, depth + 1)?;
        if left < 0.0 && right.fract() != 0.0 {
            return Err(Rule::Expression("a root of a negative number"));
        }
        left = finite(left.powf(right))?;
    }
    Ok(left)
}

fn finite(v: f64) -> Result<f64, Rule> {
    if v.is_finite() { Ok(v) } else { Err(Rule::Expression("the value has no end")) }
}

fn function(c: &mut Cursor<'_>, p: &Parameters, depth: u8) -> Result<f64, Rule> {
    if c.word(b"ATAN") {
        let y = bracket(c, p, depth)?;
        if !c.word(b"/") {
            return Err(Rule::Expression("ATAN is written ATAN[a]/[b]"));
        }
        let x = bracket(c, p, depth)?;
        return Ok(y.atan2(x).to_degrees());
    }
    type Apply = fn(f64) -> f64;
    const PLAIN: &[(&[u8], Apply)] = &[
        (b"ABS", f64::abs),
        (b"COS", |v| v.to_radians().cos()),
        (b"EXP", f64::exp),
        (b"FIX", f64::floor),
        (b"FUP", f64::ceil),
        (b"ROUND", f64::round),
        (b"SIN", |v| v.to_radians().sin()),
        (b"TAN", |v| v.to_radians().tan()),
    ];
    for (name, apply) in PLAIN {
        if c.word(name) {
            return finite(apply(bracket(c, p, depth)?));
        }
    }
    if c.word(b"ACOS") {
        return within(bracket(c, p, depth)?).map(|v| v.acos().to_degrees());
    }
    if c.word(b"ASIN") {
        return within(bracket(c, p, depth)?).map(|v| v.asin().to_degrees());
    }
    if c.word(b"LN") {
        let v = bracket(c, p, depth)?;
        return if v > 0.0 { Ok(v.ln()) } else { Err(Rule::Expression("LN of a number that is not positive")) };
    }
    if c.word(b"SQRT") {
        let v = bracket(c, p, depth)?;
        return if v >= 0.0 { Ok(v.sqrt()) } else { Err(Rule::Expression("SQRT of a negative number")) };
    }
    Err(Rule::Expression("this is no function of the language"))
}

fn within(v: f64) -> Result<f64, Rule> {
    if (-1.0..=1.0).contains(&v) { Ok(v) } else { Err(Rule::Expression("ACOS and ASIN take -1 to 1")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Result<f64, Rule> {
        let mut p = Parameters::default();
        p.set(3, 3.0);
        value(&mut Cursor { text: text.as_bytes(), at: 0 }, &p, 0)
    }

    #[test]
    fn values_of_nistir_6556() {
        // NISTIR 6556, 3.3.2.3 and 3.3.2.4, with worked values
        for (text, wanted) in [
            ("[2.0/3*1.5-5.5/11.0]", 0.5),
            ("[1+ACOS[0]-[#3**[4.0/2]]]", 82.0),
            ("[2**3**2]", 64.0),
            ("[2+3*4]", 14.0),
            ("[7 MOD 4]", 3.0),
            ("ATAN[2]/[1+3]", 26.565_051_177_078),
            ("SQRT[36]", 6.0),
            ("COS[60]", 0.5),
            ("EXP[1]", std::f64::consts::E),
            ("LN[10]", std::f64::consts::LN_10),
            ("[1 AND 0]", 0.0),
            ("[1 OR 0]", 1.0),
            ("[1 XOR 1]", 0.0),
            ("FIX[-2.8]", -3.0),
            ("FUP[-2.8]", -2.0),
        ] {
            let got = of(text).unwrap();
            assert!((got - wanted).abs() < 1e-9, "{text}: {got}");
        }
    }

    #[test]
    fn what_has_no_value_is_refused() {
        for text in ["[1/0]", "ACOS[2]", "[[0-2]**0.5]", "[1", "FOO[1]", "#0", "#5400", "LN[0]", "SQRT[0-1]"] {
            assert!(of(text).is_err(), "{text}");
        }
        assert!(of(&"[".repeat(200)).is_err());
    }
}
