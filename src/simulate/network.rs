//! A network of heat capacities and conductances, and its exact solution while sources stay constant.
//!
//! C dT/dt = −G T + q, with T the node temperatures, q the heat that enters them. Over a step in which q is constant
//! the solution is exact: T₁ = Φ T₀ + Γ q with Φ = exp(−C⁻¹G Δt). Stiff networks (thin air, heavy walls) are no trouble.

/// A square matrix, row by row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Matrix {
    n: usize,
    values: Vec<f64>,
}

impl Matrix {
    fn zero(n: usize) -> Self {
        Self { n, values: vec![0.0; n * n] }
    }

    fn identity(n: usize) -> Self {
        let mut m = Self::zero(n);
        (0..n).for_each(|i| m.values[i * n + i] = 1.0);
        m
    }

    fn scaled(&self, by: f64) -> Self {
        Self { n: self.n, values: self.values.iter().map(|x| x * by).collect() }
    }

    fn plus(&self, other: &Self) -> Self {
        Self { n: self.n, values: self.values.iter().zip(&other.values).map(|(a, b)| a + b).collect() }
    }

    fn times(&self, other: &Self) -> Self {
        let n = self.n;
        let mut product = Self::zero(n);
        for i in 0..n {
            for k in 0..n {
                let a = self.values[i * n + k];
                if a != 0.0 {
                    (0..n).for_each(|j| product.values[i * n + j] += a * other.values[k * n + j]);
                }
            }
        }
        product
    }

    /// The matrix times a vector, added to `out`.
    pub(super) fn add_product(&self, x: &[f64], out: &mut [f64]) {
        for (row, out) in self.values.chunks_exact(self.n).zip(out) {
            *out += row.iter().zip(x).map(|(a, b)| a * b).sum::<f64>();
        }
    }

    fn norm(&self) -> f64 {
        self.values
            .chunks_exact(self.n)
            .map(|row| row.iter().map(|x| x.abs()).sum::<f64>())
            .fold(0.0, f64::max)
    }
}

/// Nodes with their capacities, and the conductances between them and to temperatures outside the network.
#[derive(Clone, Debug, Default)]
pub(super) struct Network {
    /// Heat capacity of each node, J/K.
    capacity: Vec<f64>,
    /// Conductance between two nodes, W/K.
    between: Vec<(usize, usize, f64)>,
    /// Conductance from a node to a given temperature outside, W/K: node, which temperature, conductance.
    outside: Vec<(usize, usize, f64)>,
}

impl Network {
    /// Adds a node; the answer is its number.
    pub(super) fn node(&mut self, capacity_j_per_k: f64) -> usize {
        self.capacity.push(capacity_j_per_k);
        self.capacity.len() - 1
    }

    /// Joins two nodes.
    pub(super) fn join(&mut self, a: usize, b: usize, w_per_k: f64) {
        self.between.push((a, b, w_per_k));
    }

    /// Joins a node with a temperature outside the network.
    pub(super) fn join_outside(&mut self, node: usize, outside: usize, w_per_k: f64) {
        self.outside.push((node, outside, w_per_k));
    }

    pub(super) fn nodes(&self) -> usize {
        self.capacity.len()
    }

    /// Stored heat above 0 °C, in J.
    #[cfg(test)]
    pub(super) fn stored_j(&self, temperatures: &[f64]) -> f64 {
        self.capacity.iter().zip(temperatures).map(|(c, t)| c * t).sum()
    }

    /// The heat, in W, that outside temperatures and sources would bring into each node if the nodes were at 0 °C.
    pub(super) fn inflow(&self, outside_degc: &[f64], sources_w: &[f64], inflow: &mut [f64]) {
        inflow.copy_from_slice(sources_w);
        for (node, which, g) in &self.outside {
            inflow[*node] += g * outside_degc[*which];
        }
    }

    /// Heat that leaves through the outside joints while the nodes have these mean temperatures, in W.
    #[cfg(test)]
    pub(super) fn losses_w(&self, mean_degc: &[f64], outside_degc: &[f64]) -> f64 {
        self.outside.iter().map(|(node, which, g)| g * (mean_degc[*node] - outside_degc[*which])).sum()
    }

    /// The exact step of `step_s` seconds.
    pub(super) fn step(&self, step_s: f64) -> Step {
        let [phi, once, _] = exponentials(&self.rates(), step_s);
        Step { from_now: phi, from_inflow: self.per_capacity(once) }
    }

    /// The exact mean over a step of `step_s` seconds, in place of its end.
    #[cfg(test)]
    pub(super) fn mean_step(&self, step_s: f64) -> Step {
        let [_, once, twice] = exponentials(&self.rates(), step_s);
        Step {
            from_now: once.scaled(1.0 / step_s),
            from_inflow: self.per_capacity(twice).scaled(1.0 / step_s),
        }
    }

    /// −C⁻¹G, per second.
    fn rates(&self) -> Matrix {
        let n = self.nodes();
        let mut rates = Matrix::zero(n);
        for (a, b, g) in &self.between {
            for (i, j) in [(*a, *b), (*b, *a)] {
                rates.values[i * n + i] -= g / self.capacity[i];
                rates.values[i * n + j] += g / self.capacity[i];
            }
        }
        for (node, _, g) in &self.outside {
            rates.values[node * n + node] -= g / self.capacity[*node];
        }
        rates
    }

    fn per_capacity(&self, mut m: Matrix) -> Matrix {
        for row in m.values.chunks_exact_mut(self.nodes()) {
            row.iter_mut().zip(&self.capacity).for_each(|(x, c)| *x /= c);
        }
        m
    }
}

/// The exact solution over one step with constant inflow.
#[derive(Clone, Debug)]
pub(super) struct Step {
    from_now: Matrix,
    from_inflow: Matrix,
}

impl Step {
    /// Temperatures at the end of the step.
    pub(super) fn next(&self, now: &[f64], inflow_w: &[f64], next: &mut [f64]) {
        next.fill(0.0);
        self.from_now.add_product(now, next);
        self.from_inflow.add_product(inflow_w, next);
    }
}

/// exp(A t), ∫₀ᵗ exp(A s) ds and ∫₀ᵗ ∫₀ˢ exp(A r) dr ds, by their series for a short time, doubled until the time is reached.
fn exponentials(a: &Matrix, t: f64) -> [Matrix; 3] {
    let n = a.n;
    let doublings = libm::ceil(libm::log2(a.norm() * t * 4.0)).clamp(0.0, 60.0) as u32;
    let h = t / (1_u64 << doublings) as f64;
    let mut term = Matrix::identity(n);
    let [mut phi, mut once, mut twice] =
        [Matrix::identity(n), Matrix::identity(n).scaled(h), Matrix::identity(n).scaled(h * h / 2.0)];
    for k in 1..20_u32 {
        term = term.times(a).scaled(h / f64::from(k));
        let next = f64::from(k + 1);
        phi = phi.plus(&term);
        once = once.plus(&term.scaled(h / next));
        twice = twice.plus(&term.scaled(h * h / (next * (next + 1.0))));
    }
    let mut length = h;
    for _ in 0..doublings {
        twice = twice.plus(&once.scaled(length)).plus(&phi.times(&twice));
        once = once.plus(&phi.times(&once));
        phi = phi.times(&phi);
        length *= 2.0;
    }
    [phi, once, twice]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One room of one node with a time constant, cooling freely at 12 °C outdoors from 21 °C: hours until 16 °C.
    fn hours_to_16(time_constant_h: f64) -> f64 {
        let mut network = Network::default();
        let room = network.node(time_constant_h * 3600.0 * 100.0);
        network.join_outside(room, 0, 100.0);
        let step = network.step(60.0);
        let (mut now, mut next, mut inflow) = (vec![21.0], vec![0.0], vec![0.0]);
        for minute in 0.. {
            network.inflow(&[12.0], &[0.0], &mut inflow);
            step.next(&now, &inflow, &mut next);
            if next[0] <= 16.0 {
                return (f64::from(minute) + (now[0] - 16.0) / (now[0] - next[0])) / 60.0;
            }
            std::mem::swap(&mut now, &mut next);
        }
        unreachable!("a cooling room gets there")
    }

    /// Source: Nagle, Saff & Snider, Fundamentals of Differential Equations, 9th ed., section 3.3, exercise 6: 3 ln(9/4) h and 2 ln(9/4) h.
    #[test]
    fn free_cooling_takes_its_published_time() {
        assert!((hours_to_16(3.0) - 2.4328).abs() < 5e-5);
        assert!((hours_to_16(2.0) - 1.6219).abs() < 5e-5);
    }

    #[test]
    fn a_steady_state_is_what_one_reckons_by_hand() {
        // 1000 W into a room that loses 50 W/K to 0 °C outdoors, half of it through a wall node: 20 °C, wall 10 °C.
        let mut network = Network::default();
        let (air, wall) = (network.node(5e4), network.node(5e6));
        network.join_outside(air, 0, 25.0);
        network.join(air, wall, 50.0);
        network.join_outside(wall, 0, 50.0);
        let step = network.step(3600.0);
        let (mut now, mut next, mut inflow) = (vec![5.0, 5.0], vec![0.0; 2], vec![0.0; 2]);
        for _ in 0..2000 {
            network.inflow(&[0.0], &[1000.0, 0.0], &mut inflow);
            step.next(&now, &inflow, &mut next);
            std::mem::swap(&mut now, &mut next);
        }
        assert!((now[0] - 20.0).abs() < 1e-9 && (now[1] - 10.0).abs() < 1e-9, "{now:?}");
    }

    #[test]
    fn heat_is_neither_made_nor_lost() {
        let mut network = Network::default();
        let (air, wall, other) = (network.node(4e4), network.node(8e6), network.node(6e4));
        network.join(air, wall, 120.0);
        network.join(air, other, 300.0);
        network.join_outside(wall, 0, 15.0);
        network.join_outside(other, 1, 30.0);
        let (step, mean_step) = (network.step(60.0), network.mean_step(60.0));
        let outside = [-5.0, 20.0];
        let sources = [700.0, 0.0, 50.0];
        let (mut now, mut next, mut mean, mut inflow) =
            (vec![10.0, 12.0, 25.0], vec![0.0; 3], vec![0.0; 3], vec![0.0; 3]);
        let (start, mut brought) = (network.stored_j(&now), 0.0);
        for _ in 0..1000 {
            network.inflow(&outside, &sources, &mut inflow);
            step.next(&now, &inflow, &mut next);
            mean_step.next(&now, &inflow, &mut mean);
            brought += (sources.iter().sum::<f64>() - network.losses_w(&mean, &outside)) * 60.0;
            std::mem::swap(&mut now, &mut next);
        }
        let stored = network.stored_j(&now) - start;
        assert!((stored - brought).abs() < 1e-6 * stored.abs(), "{stored} stored, {brought} brought");
    }
}
