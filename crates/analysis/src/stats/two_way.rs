//! Two-way analysis of variance without repeats: rows by columns, one result each.
//!
//! Rows are sessions (or units), columns are conditions. What a column has of its own – how far
//! off the device is at that level – is taken out first; what is left is parted into what a whole
//! row shares and what each result has for itself. With rows as the laboratories of ISO 5725-2 the
//! components are those of that standard, the columns' means taken out.

/// Mean squares of a complete table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoWay {
    /// Mean square between rows.
    pub ms_rows: f64,
    /// Mean square between columns.
    pub ms_columns: f64,
    /// Mean square of what is left; zero with one column.
    pub ms_rest: f64,
    /// Rows.
    pub rows: usize,
    /// Columns.
    pub columns: usize,
}

impl TwoWay {
    /// Degrees of freedom of the rows.
    pub fn dof_rows(&self) -> f64 {
        self.rows as f64 - 1.0
    }

    /// Degrees of freedom of what is left.
    pub fn dof_rest(&self) -> f64 {
        self.dof_rows() * (self.columns as f64 - 1.0)
    }

    /// Standard deviation that all results of a row share; zero where the variance comes out
    /// negative.
    pub fn s_shared(&self) -> f64 {
        ((self.ms_rows - self.ms_rest) / self.columns as f64)
            .max(0.0)
            .sqrt()
    }

    /// Standard deviation of a single result beside what its row and its column have.
    pub fn s_own(&self) -> f64 {
        self.ms_rest.sqrt()
    }

    /// Standard deviation of one result from row to row, with its effective degrees of freedom.
    ///
    /// It is √(MSᵣ/c + MSₑ·(c − 1)/c), a sum of mean squares with positive weights, so that the
    /// degrees of freedom follow by Satterthwaite's formula and no variance has to be cut at zero.
    pub fn s_of_one(&self) -> (f64, f64) {
        let columns = self.columns as f64;
        let parts = [
            (self.ms_rows / columns, self.dof_rows()),
            (self.ms_rest * (columns - 1.0) / columns, self.dof_rest()),
        ];
        let variance: f64 = parts.iter().map(|(part, _)| part).sum();
        let fourth: f64 = parts
            .iter()
            .filter(|(part, dof)| *part > 0.0 && *dof > 0.0)
            .map(|(part, dof)| part * part / dof)
            .sum();
        let dof = if fourth > 0.0 {
            variance * variance / fourth
        } else {
            self.dof_rows()
        };
        (variance.sqrt(), dof)
    }
}

/// Analyses a table given by rows. `None` with fewer than two rows, no column, rows of different
/// length, or a number that is not finite.
pub fn two_way<R: AsRef<[f64]>>(table: &[R]) -> Option<TwoWay> {
    let columns = table.first()?.as_ref().len();
    let is_sound = |row: &R| {
        let row = row.as_ref();
        row.len() == columns && row.iter().all(|value| value.is_finite())
    };
    if table.len() < 2 || columns == 0 || !table.iter().all(is_sound) {
        return None;
    }
    let (p, q) = (table.len() as f64, columns as f64);
    let origin = table[0].as_ref()[0];
    let row_means: Vec<f64> = table
        .iter()
        .map(|row| row.as_ref().iter().map(|x| x - origin).sum::<f64>() / q)
        .collect();
    let column_means: Vec<f64> = (0..columns)
        .map(|column| {
            table
                .iter()
                .map(|row| row.as_ref()[column] - origin)
                .sum::<f64>()
                / p
        })
        .collect();
    let grand = row_means.iter().sum::<f64>() / p;
    let squares = |means: &[f64]| means.iter().map(|m| (m - grand).powi(2)).sum::<f64>();
    let rest: f64 = table
        .iter()
        .zip(&row_means)
        .flat_map(|(row, row_mean)| {
            let values = row.as_ref().iter().zip(&column_means);
            values.map(move |(x, column_mean)| x - origin - row_mean - column_mean + grand)
        })
        .map(|rest| rest * rest)
        .sum();
    Some(TwoWay {
        ms_rows: q * squares(&row_means) / (p - 1.0),
        ms_columns: if columns > 1 {
            p * squares(&column_means) / (q - 1.0)
        } else {
            0.0
        },
        ms_rest: if columns > 1 {
            rest / ((p - 1.0) * (q - 1.0))
        } else {
            0.0
        },
        rows: table.len(),
        columns,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!(
            (found - expected).abs() <= tolerance * expected.abs().max(1.0),
            "{found} not {expected}"
        );
    }

    /// R's `sleep` data, two drugs by ten patients: with two rows, F of the rows is the square of
    /// the paired t that R prints, −4.0621 with 9 degrees of freedom (−4.06212768 unrounded).
    #[test]
    fn two_rows_are_a_paired_test() {
        let drugs = [
            [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
            [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
        ];
        let found = two_way(&drugs).unwrap();
        assert_eq!((found.dof_rows(), found.dof_rest()), (1.0, 9.0));
        close(found.ms_rows / found.ms_rest, 4.062_127_68f64.powi(2), 1e-7);
    }

    /// With one column nothing but the rows is left: the ordinary standard deviation. GUM 4.4.3,
    /// Table 1: s = 1.489 °C (1.4888445 unrounded).
    #[test]
    fn one_column_is_a_standard_deviation() {
        let readings = [
            96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
            100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
        ];
        let table = readings.map(|reading| [reading]);
        let (s, dof) = two_way(&table).unwrap().s_of_one();
        close(s, 1.488_844_5, 1e-7);
        close(dof, 19.0, 1e-12);
    }

    #[test]
    fn a_small_table_by_hand() {
        // Row means 1, 2, 6; column means 2, 4; grand 3.
        // Residuals: (0−1−2+3, 2−1−4+3) = (0, 0); (2−2−2+3, 2−2−4+3) = (1, −1);
        // (4−6−2+3, 8−6−4+3) = (−1, 1). Sum of squares 4, degrees of freedom 2: MS 2.
        // Rows: 2·(4 + 1 + 9)/2 = 14. Columns: 3·(1 + 1)/1 = 6.
        let found = two_way(&[[0.0, 2.0], [2.0, 2.0], [4.0, 8.0]]).unwrap();
        close(found.ms_rest, 2.0, 1e-12);
        close(found.ms_rows, 14.0, 1e-12);
        close(found.ms_columns, 6.0, 1e-12);
        close(found.s_shared(), 6f64.sqrt(), 1e-12);
        // 14/2 + 2/2 = 8; dof 64/(49/2 + 1/2) = 2.56.
        let (s, dof) = found.s_of_one();
        close(s, 8f64.sqrt(), 1e-12);
        close(dof, 2.56, 1e-12);
    }

    #[test]
    fn what_cannot_be_analysed() {
        assert!(two_way::<Vec<f64>>(&[]).is_none());
        assert!(two_way(&[[1.0, 2.0]]).is_none());
        assert!(two_way(&[vec![], vec![]]).is_none());
        assert!(two_way(&[vec![1.0, 2.0], vec![1.0]]).is_none());
        assert!(two_way(&[[1.0], [f64::NAN]]).is_none());
        let same = two_way(&[[1.0, 2.0], [1.0, 2.0]]).unwrap();
        assert_eq!(same.s_of_one(), (0.0, 1.0));
    }
}
