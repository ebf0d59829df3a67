//! One-way analysis of variance and the repeatability components of ISO 5725-2.

/// Mean squares and variance components of grouped results.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Anova {
    /// Mean of all results.
    pub mean: f64,
    /// Sum of squares between groups.
    pub ss_between: f64,
    /// Sum of squares within groups.
    pub ss_within: f64,
    /// Groups minus one.
    pub dof_between: usize,
    /// Results minus groups.
    pub dof_within: usize,
    /// Effective number per group: (N − Σnᵢ²/N)/(p − 1).
    pub per_group: f64,
}

impl Anova {
    /// Mean square between groups.
    pub fn ms_between(&self) -> f64 {
        self.ss_between / self.dof_between as f64
    }

    /// Mean square within groups.
    pub fn ms_within(&self) -> f64 {
        self.ss_within / self.dof_within as f64
    }

    /// Ratio of mean squares; `None` where nothing varies within groups.
    pub fn f(&self) -> Option<f64> {
        let within = self.ms_within();
        (within > 0.0).then(|| self.ms_between() / within)
    }

    /// Repeatability standard deviation s_r.
    pub fn s_r(&self) -> f64 {
        self.ms_within().sqrt()
    }

    /// Standard deviation between groups s_L; zero where the variance comes out negative.
    pub fn s_l(&self) -> f64 {
        ((self.ms_between() - self.ms_within()) / self.per_group)
            .max(0.0)
            .sqrt()
    }

    /// Reproducibility standard deviation s_R; never below s_r.
    pub fn s_reproducibility(&self) -> f64 {
        self.s_r().hypot(self.s_l())
    }

    /// Standard uncertainty of the mean when the groups are a random choice.
    pub fn u_mean(&self) -> f64 {
        let n = (self.dof_between + self.dof_within + 1) as f64;
        (self.ms_between().max(0.0) / n).sqrt()
    }
}

/// Analyses groups. Everything is centred on the first result, so that leading digits common to
/// all cost nothing. `None` with fewer than two groups, an empty group, no repeats at all, or a
/// number that is not finite.
pub fn anova<G: AsRef<[f64]>>(groups: &[G]) -> Option<Anova> {
    let origin = *groups.first()?.as_ref().first()?;
    let mut n = 0usize;
    let mut squares = 0usize;
    let mut total = 0.0;
    let mut means = Vec::with_capacity(groups.len());
    let mut ss_within = 0.0;
    for group in groups {
        let group = group.as_ref();
        if group.is_empty() || group.iter().any(|x| !x.is_finite()) {
            return None;
        }
        let sum: f64 = group.iter().map(|x| x - origin).sum();
        let mean = sum / group.len() as f64;
        ss_within += group
            .iter()
            .map(|x| (x - origin - mean).powi(2))
            .sum::<f64>();
        n += group.len();
        squares += group.len() * group.len();
        total += sum;
        means.push((group.len() as f64, mean));
    }
    let p = groups.len();
    if p < 2 || n <= p {
        return None;
    }
    let grand = total / n as f64;
    let ss_between = means
        .iter()
        .map(|(size, mean)| size * (mean - grand).powi(2))
        .sum();
    Some(Anova {
        mean: origin + grand,
        ss_between,
        ss_within,
        dof_between: p - 1,
        dof_within: n - p,
        per_group: (n as f64 - squares as f64 / n as f64) / (p as f64 - 1.0),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!(
            (found - expected).abs() <= tolerance * expected.abs(),
            "{found} not {expected}"
        );
    }

    /// NIST StRD ANOVA "AtmWtAg" (public domain): two instruments, 24 readings each, seven
    /// constant leading digits. Certified values; the component standard deviations follow from
    /// them by the formulae of ISO 5725-2.
    #[test]
    fn two_instruments_certified() {
        let one = [
            107.8681568,
            107.8681465,
            107.8681572,
            107.8681785,
            107.8681446,
            107.8681903,
            107.8681526,
            107.8681494,
            107.8681616,
            107.8681587,
            107.8681519,
            107.8681486,
            107.8681419,
            107.8681569,
            107.8681508,
            107.8681672,
            107.8681385,
            107.8681518,
            107.8681662,
            107.8681424,
            107.8681360,
            107.8681333,
            107.8681610,
            107.8681477,
        ];
        let two = [
            107.8681079,
            107.8681344,
            107.8681513,
            107.8681197,
            107.8681604,
            107.8681385,
            107.8681642,
            107.8681365,
            107.8681151,
            107.8681082,
            107.8681517,
            107.8681448,
            107.8681198,
            107.8681482,
            107.8681334,
            107.8681609,
            107.8681101,
            107.8681512,
            107.8681469,
            107.8681360,
            107.8681254,
            107.8681261,
            107.8681450,
            107.8681368,
        ];
        let a = anova(&[one, two]).unwrap();
        close(a.ss_between, 3.63834187500000e-9, 1e-7);
        close(a.ss_within, 1.04951729166667e-8, 1e-7);
        close(a.f().unwrap(), 15.9467335677930, 1e-7);
        close(a.s_r(), 1.51048314446410e-5, 1e-7);
        close(a.s_l(), 1.19201963456092e-5, 1e-7);
        close(a.s_reproducibility(), 1.92418038106849e-5, 1e-7);
    }

    /// NIST StRD ANOVA "SiRstv" (public domain): five instruments, five readings each.
    #[test]
    fn five_instruments_certified() {
        let groups = [
            [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
            [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
            [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
            [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
            [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
        ];
        let a = anova(&groups).unwrap();
        close(a.ss_between, 5.11462616e-2, 1e-10);
        close(a.ss_within, 2.1663656e-1, 1e-10);
        close(a.f().unwrap(), 1.18046237440255, 1e-10);
        close(a.s_r(), 1.04076068334656e-1, 1e-10);
        close(a.s_l(), 0.0197723918634039, 1e-9);
        close(a.s_reproducibility(), 0.10593760182296, 1e-10);
    }

    /// Davies and Goldsmith 1972, dyestuff: six batches of five (the numbers are facts of the
    /// book). Variances 1764.05 and 2451.25 are published; the rest follows by ISO 5725-2.
    #[test]
    fn dyestuff_components() {
        let groups = [
            [1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
            [1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
            [1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
            [1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
            [1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
            [1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
        ];
        let a = anova(&groups).unwrap();
        close(a.s_l().powi(2), 1764.05, 1e-9);
        close(a.ms_within(), 2451.25, 1e-12);
        close(a.s_reproducibility(), 64.92534174, 1e-9);
        close(a.u_mean(), 19.38341215, 1e-9);
        assert_eq!(a.mean, 1527.5);
    }

    #[test]
    fn what_cannot_be_analysed() {
        assert!(anova::<Vec<f64>>(&[]).is_none());
        assert!(anova(&[vec![1.0, 2.0]]).is_none());
        assert!(anova(&[vec![1.0], vec![2.0]]).is_none());
        assert!(anova(&[vec![1.0, f64::NAN], vec![2.0, 3.0]]).is_none());
        assert!(
            anova(&[vec![2.0, 2.0], vec![2.0, 2.0]])
                .unwrap()
                .f()
                .is_none()
        );
    }
}
