//! Ordinary least squares on a few columns.

/// Coefficients of a fit on `P` columns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fit<const P: usize> {
    /// In the order of the columns.
    pub(super) coefficients: [f64; P],
    /// Sum of the squared residuals.
    pub(super) squares: f64,
    /// The inverse of the columns' products: times the variance of the residuals it is that of the coefficients.
    pub(super) inverse: [[f64; P]; P],
}

/// The fit of rows `(columns, y)`; `None` where there are no more rows than columns, or the columns depend on each other.
pub(super) fn fit<const P: usize>(rows: impl Iterator<Item = ([f64; P], f64)> + Clone) -> Option<Fit<P>> {
    let (mut products, mut with_y, mut count) = ([[0.0; P]; P], [0.0; P], 0);
    for (columns, y) in rows.clone() {
        for (a, products) in products.iter_mut().enumerate() {
            products.iter_mut().zip(&columns).for_each(|(sum, b)| *sum += columns[a] * b);
            with_y[a] += columns[a] * y;
        }
        count += 1;
    }
    let inverse = inverse(products).filter(|_| count > P)?;
    let coefficients = std::array::from_fn(|a| dot(&inverse[a], &with_y));
    let squares = rows.map(|(columns, y)| (y - dot(&columns, &coefficients)).powi(2)).sum();
    Some(Fit { coefficients, squares, inverse })
}

/// The sum of the products of two lists.
pub(super) fn dot<const P: usize>(a: &[f64; P], b: &[f64; P]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The variance of Σ aᵢ cᵢ, where the coefficients have this covariance.
pub(super) fn variance_of<const P: usize>(a: &[f64; P], covariance: &[[f64; P]; P]) -> f64 {
    (0..P).map(|i| a[i] * dot(&covariance[i], a)).sum()
}

/// Pivots under this share of the largest number are taken for none.
const SINGULAR: f64 = 1e-12;

/// The inverse of a symmetric matrix, by Gauss and Jordan with pivots; `None` where there is none.
pub(super) fn inverse<const P: usize>(mut matrix: [[f64; P]; P]) -> Option<[[f64; P]; P]> {
    let mut inverse: [[f64; P]; P] =
        std::array::from_fn(|i| std::array::from_fn(|k| if i == k { 1.0 } else { 0.0 }));
    let largest = matrix.iter().flatten().fold(0.0, |most: f64, x| most.max(x.abs()));
    for column in 0..P {
        let pivot =
            (column..P).max_by(|a, b| matrix[*a][column].abs().total_cmp(&matrix[*b][column].abs()))?;
        let by = matrix[pivot][column];
        if by.is_nan() || by.abs() <= SINGULAR * largest {
            return None;
        }
        for matrix in [&mut matrix, &mut inverse] {
            matrix.swap(pivot, column);
            matrix[column].iter_mut().for_each(|x| *x /= by);
        }
        let (own, own_inverse) = (matrix[column], inverse[column]);
        for row in (0..P).filter(|row| *row != column) {
            let times = matrix[row][column];
            matrix[row].iter_mut().zip(&own).for_each(|(x, own)| *x -= times * own);
            inverse[row].iter_mut().zip(&own_inverse).for_each(|(x, own)| *x -= times * own);
        }
    }
    Some(inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_through_its_points_is_found() {
        let rows = (0..7).map(f64::from).map(|i| ([1.0, i, i * i], 2.0 - i + 0.5 * i * i));
        let fit = fit(rows).unwrap();
        let close = fit.coefficients.iter().zip([2.0, -1.0, 0.5]).all(|(a, b)| (a - b).abs() < 1e-9);
        assert!(close && fit.squares < 1e-15, "{fit:?}");
    }

    #[test]
    fn columns_that_depend_on_each_other_have_no_fit() {
        assert_eq!(fit((0..9).map(f64::from).map(|i| ([1.0, i, 2.0 * i], i))), None);
        assert_eq!(fit((0..2).map(f64::from).map(|i| ([1.0, i], i))), None);
    }
}
