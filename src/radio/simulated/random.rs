//! Numbers that look random and are the same for the same seed, on every machine.

/// SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014): eight octets of
/// state and six lines, far better than a simulated household needs.
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// The same seed gives the same numbers.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Another stream, for another person: adding one leaves the numbers of the rest as they were.
    #[must_use]
    pub fn split(&mut self) -> Self {
        Self(self.next())
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ self.0 >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ z >> 31
    }

    /// From 0 up to but without 1, in steps of 2^-32.
    fn unit(&mut self) -> f64 {
        let [a, b, c, d, ..] = self.next().to_be_bytes();
        f64::from(u32::from_be_bytes([a, b, c, d])) / 4_294_967_296.0
    }

    /// True this often, from 0 never to 1 always. Takes one number whatever the answer.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// A whole number from the first to the last, both included.
    pub fn between(&mut self, first: i64, last: i64) -> i64 {
        let width = u64::try_from(last.saturating_sub(first))
            .unwrap_or(0)
            .saturating_add(1);
        let step = (u128::from(self.next()) * u128::from(width)) >> 64;
        first.saturating_add(i64::try_from(step).unwrap_or(0))
    }

    /// Close to normal: the sum of twelve. It needs no logarithm, whose last digit differs between machines, and
    /// never strays further than six deviations.
    pub fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.unit()).sum();
        mean + deviation * (sum - 6.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first outputs for seed 1234567, as Rosetta Code's task "Pseudo-random numbers/Splitmix64" lists them (from
    /// memory; five 64-bit numbers do not match by accident).
    #[test]
    fn published_outputs() {
        let mut random = Random::new(1_234_567);
        let numbers: Vec<u64> = (0..5).map(|_| random.next()).collect();
        assert_eq!(
            numbers,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821,
            ]
        );
    }

    #[test]
    fn ranges_include_both_ends() {
        let mut random = Random::new(1);
        let mut seen = [0; 4];
        for _ in 0..400 {
            seen[usize::try_from(random.between(-1, 2) + 1).unwrap()] += 1;
        }
        assert!(seen.iter().all(|&n| n > 50), "{seen:?}");
    }
}
