//! Values that are computed: parameters, bracketed expressions, functions (NISTIR 6556 3.3.2.2 to 3.3.2.4).
//!
//! May live here: the evaluator and its arithmetic. May not: words, the store of parameters.

use super::fault::Rule;
use super::number::{Scanned, is_blank, malformed, scan_binary};
use super::parameters::Parameters;

/// Brackets, functions and `#` inside each other; a limit on the stack, far beyond what people write.
const DEEPEST: u32 = 64;

/// Reads a real value at `at`: a number, a parameter, a bracketed expression or a function's value.
///
/// # Errors
/// The rule broken and the offset past what breaks it.
pub fn value(line: &[u8], at: usize, parameters: &Parameters) -> Scanned<f64> {
    let mut reading = Reading { line, at, parameters, depth: 0 };
    let value = reading.real()?;
    reading.blanks();
    Ok((value, reading.at))
}

struct Reading<'a> {
    line: &'a [u8],
    at: usize,
    parameters: &'a Parameters,
    depth: u32,
}

type Value = Result<f64, (Rule, usize)>;

#[derive(Clone, Copy, PartialEq)]
enum Operator {
    Power,
    Times,
    Over,
    Modulo,
    Plus,
    Minus,
    Or,
    Xor,
    And,
}

impl Operator {
    /// Operators of a higher level are done first, those of one level from left to right.
    fn level(self) -> u8 {
        match self {
            Self::Power => 3,
            Self::Times | Self::Over | Self::Modulo => 2,
            Self::Plus | Self::Minus | Self::Or | Self::Xor | Self::And => 1,
        }
    }

    fn of(self, a: f64, b: f64) -> Result<f64, Rule> {
        let truth = |yes: bool| if yes { 1.0 } else { 0.0 };
        let value = match self {
            Self::Over | Self::Modulo if b == 0.0 => return Err(Rule::DivisionByZero),
            Self::Power if a < 0.0 && b.fract() != 0.0 => return Err(Rule::NoValue("**")),
            Self::Power => a.powf(b),
            Self::Times => a * b,
            Self::Over => a / b,
            Self::Modulo => a.rem_euclid(b),
            Self::Plus => a + b,
            Self::Minus => a - b,
            Self::Or => truth(a != 0.0 || b != 0.0),
            Self::Xor => truth((a != 0.0) != (b != 0.0)),
            Self::And => truth(a != 0.0 && b != 0.0),
        };
        if value.is_finite() { Ok(value) } else { Err(Rule::NumberTooLarge) }
    }
}

impl Reading<'_> {
    fn blanks(&mut self) {
        while self.line.get(self.at).copied().is_some_and(is_blank) {
            self.at += 1;
        }
    }

    fn peek(&mut self) -> Option<u8> {
        self.blanks();
        self.line.get(self.at).map(u8::to_ascii_uppercase)
    }

    fn take(&mut self, byte: u8) -> Result<(), (Rule, usize)> {
        if self.peek() == Some(byte) {
            self.at += 1;
            Ok(())
        } else {
            Err((Rule::Expected(char::from(byte)), self.at + 1))
        }
    }

    /// Takes a keyword if it stands here; blanks and case do not matter.
    fn keyword(&mut self, word: &str) -> bool {
        let start = self.at;
        for byte in word.bytes() {
            if self.peek() != Some(byte) {
                self.at = start;
                return false;
            }
            self.at += 1;
        }
        true
    }

    fn deeper(&mut self, read: impl FnOnce(&mut Self) -> Value) -> Value {
        if self.depth >= DEEPEST {
            return Err((Rule::TooDeep, self.at + 1));
        }
        self.depth += 1;
        let value = read(self);
        self.depth -= 1;
        value
    }

    fn real(&mut self) -> Value {
        match self.peek() {
            Some(b'[') => self.deeper(Self::bracketed),
            Some(b'#') => self.deeper(Self::parameter),
            Some(b'A'..=b'Z') => self.deeper(Self::function),
            Some(b'0'..=b'9' | b'.' | b'+' | b'-') => {
                let (value, at) = scan_binary(self.line, self.at)?;
                self.at = at;
                Ok(value)
            }
            _ => Err(malformed(self.line, self.at)),
        }
    }

    fn parameter(&mut self) -> Value {
        self.at += 1;
        let number = self.real()?;
        let index = Parameters::index(number).map_err(|rule| (rule, self.at))?;
        self.parameters.get(index).map_err(|rule| (rule, self.at))
    }

    fn bracketed(&mut self) -> Value {
        self.take(b'[')?;
        let value = self.level(1)?;
        self.take(b']')?;
        Ok(value)
    }

    /// A run of operators of this level or a higher one.
    fn level(&mut self, level: u8) -> Value {
        let mut left = if level == 3 { self.real()? } else { self.level(level + 1)? };
        loop {
            let start = self.at;
            match self.operator() {
                Some(operator) if operator.level() == level => {
                    let right = if level == 3 { self.real()? } else { self.level(level + 1)? };
                    left = operator.of(left, right).map_err(|rule| (rule, self.at))?;
                }
                Some(_) => {
                    self.at = start;
                    return Ok(left);
                }
                None if self.peek() == Some(b']') => return Ok(left),
                None => return Err((self.no_operator(), self.at + 1)),
            }
        }
    }

    fn no_operator(&mut self) -> Rule {
        if self.peek().is_some_and(|b| b.is_ascii_alphabetic()) { Rule::UnknownFunction } else { Rule::Expected(']') }
    }

    fn operator(&mut self) -> Option<Operator> {
        const ALL: [(&str, Operator); 9] = [
            ("**", Operator::Power),
            ("*", Operator::Times),
            ("/", Operator::Over),
            ("MOD", Operator::Modulo),
            ("+", Operator::Plus),
            ("-", Operator::Minus),
            ("OR", Operator::Or),
            ("XOR", Operator::Xor),
            ("AND", Operator::And),
        ];
        ALL.into_iter().find(|(word, _)| self.keyword(word)).map(|(_, operator)| operator)
    }

    fn function(&mut self) -> Value {
        const ALL: [&str; 13] =
            ["ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"];
        let Some(name) = ALL.into_iter().find(|name| self.keyword(name)) else {
            return Err((Rule::UnknownFunction, self.at + 1));
        };
        let a = self.deeper(Self::bracketed)?;
        let value = match name {
            "ABS" => a.abs(),
            "ACOS" => a.acos().to_degrees(),
            "ASIN" => a.asin().to_degrees(),
            "ATAN" => {
                self.take(b'/')?;
                a.atan2(self.deeper(Self::bracketed)?).to_degrees()
            }
            "COS" => a.to_radians().cos(),
            "EXP" => a.exp(),
            "FIX" => a.floor(),
            "FUP" => a.ceil(),
            "LN" => a.ln(),
            "ROUND" => a.round(),
            "SIN" => a.to_radians().sin(),
            "SQRT" => a.sqrt(),
            _ => a.to_radians().tan(),
        };
        if value.is_finite() { Ok(value) } else { Err((Rule::NoValue(name), self.at)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Result<f64, Rule> {
        let mut parameters = Parameters::default();
        parameters.set(3, 3.0);
        parameters.set(2, 3.0);
        let (value, at) = value(text.as_bytes(), 0, &parameters).map_err(|(rule, _)| rule)?;
        assert_eq!(at, text.len(), "{text} is read whole");
        Ok(value)
    }

    #[test]
    fn expressions_of_the_standard() {
        // NISTIR 6556 3.3.2.3 and the worked values beside it
        for (text, wanted) in [
            ("[2.0/3*1.5-5.5/11.0]", 0.5),
            ("[1+ACOS[0]-[#3**[4.0/2]]]", 82.0),
            ("[2**3**2]", 64.0),
            ("[2+3*4]", 14.0),
            ("[7 MOD 4]", 3.0),
            ("ATAN[2]/[1+3]", 26.565_051_177),
            ("SQRT[36]", 6.0),
            ("COS[60]", 0.5),
            ("EXP[1]", std::f64::consts::E),
            ("LN[10]", std::f64::consts::LN_10),
            ("[1 AND 0]", 0.0),
            ("[1 OR 0]", 1.0),
            ("[1 XOR 1]", 0.0),
            ("FIX[-2.8]", -3.0),
            ("FUP[-2.8]", -2.0),
            ("##2", 3.0),
            ("[#3+2]", 5.0),
            ("[ 7 m o d 4 ]", 3.0),
            ("[2--3]", 5.0),
        ] {
            assert!((of(text).unwrap() - wanted).abs() < 1e-9, "{text}");
        }
    }

    #[test]
    fn broken_expressions_are_refused() {
        assert_eq!(of("[1/0]"), Err(Rule::DivisionByZero));
        assert_eq!(of("[1 MOD 0]"), Err(Rule::DivisionByZero));
        assert_eq!(of("ACOS[2]"), Err(Rule::NoValue("ACOS")));
        assert_eq!(of("[[0-2]**0.5]"), Err(Rule::NoValue("**")));
        assert_eq!(of("SQRT[-1]"), Err(Rule::NoValue("SQRT")));
        assert_eq!(of("[1+2"), Err(Rule::Expected(']')));
        assert_eq!(of("[1 HUH 2]"), Err(Rule::UnknownFunction));
        assert_eq!(of("HUH[2]"), Err(Rule::UnknownFunction));
        assert_eq!(of("#5061"), Err(Rule::ParameterUnknown(5061)));
        assert!(matches!(of("#0"), Err(Rule::ParameterIndex(_))));
        let deep = format!("{}1{}", "[".repeat(100), "]".repeat(100));
        assert_eq!(of(&deep), Err(Rule::TooDeep));
    }
}
