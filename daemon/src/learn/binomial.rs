//! Factorials, binomial coefficients and the binomial distribution, by their logarithms.
//!
//! May live here: exact counting. May not: what is counted.

/// Below this the logarithm of a factorial is summed, from there on it is Stirling's series.
const SUMMED: u64 = 32;

/// The natural logarithm of n!. Stirling's series with four correction terms (Abramowitz and Stegun 6.1.41), exact to
/// a double from 32 on.
pub(super) fn ln_factorial(n: u64) -> f64 {
    if n < SUMMED {
        return (2..=n).map(|k| (k as f64).ln()).sum();
    }
    let x = n as f64;
    let square = x * x;
    let correction = (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - 1.0 / (1680.0 * square)) / square) / square) / x;
    (x + 0.5) * x.ln() - x + 0.5 * (2.0 * std::f64::consts::PI).ln() + correction
}

/// The natural logarithm of the number of ways to choose `k` of `n`.
pub(super) fn ln_choose(n: u64, k: u64) -> f64 {
    if k > n {
        return f64::NEG_INFINITY;
    }
    ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k)
}

/// The probability of exactly `k` of `n`, each with probability `p`.
pub(super) fn exactly(k: u64, n: u64, p: f64) -> f64 {
    if k > n {
        return 0.0;
    }
    if p <= 0.0 {
        return if k == 0 { 1.0 } else { 0.0 };
    }
    if p >= 1.0 {
        return if k == n { 1.0 } else { 0.0 };
    }
    (ln_choose(n, k) + k as f64 * p.ln() + (n - k) as f64 * (-p).ln_1p()).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factorials_agree() {
        // scipy 1.17.1, special.gammaln(n + 1)
        for (n, ln) in [
            (0, 0.0),
            (1, 0.0),
            (5, 4.787_491_742_782_046),
            (10, 15.104_412_573_075_516),
            (20, 42.335_616_460_753_485),
            (25, 58.003_605_222_980_52),
            (50, 148.477_766_951_773_02),
            (100, 363.739_375_555_563_47),
            (1000, 5_912.128_178_488_164),
            (100_000, 1_051_299.221_899_121_8),
        ] {
            assert!((ln_factorial(n) - ln).abs() <= 1.0e-14 * ln.max(1.0), "{n}: {}", ln_factorial(n));
        }
    }

    #[test]
    fn the_distribution_agrees() {
        // scipy 1.17.1, stats.binom.cdf
        for (k, n, p, below) in [
            (3, 10, 0.5, 0.171_875),
            (0, 20, 0.05, 0.358_485_922_408_542_2),
            (45, 50, 0.9, 0.568_801_593_170_938_1),
            (499, 1000, 0.5, 0.487_387_490_910_819_73),
            (2, 400, 0.01, 0.236_631_918_548_016_01),
        ] {
            let summed: f64 = (0..=k).map(|i| exactly(i, n, p)).sum();
            assert!((summed - below).abs() < 1.0e-12, "{k} of {n}: {summed}");
        }
        assert_eq!((exactly(0, 5, 0.0), exactly(5, 5, 1.0), exactly(6, 5, 0.5)), (1.0, 1.0, 0.0));
    }
}
