//! Re-hangs that leave cards out of order, as mixed integer linear programs for a general solver.

use good_lp::{
    Expression, ProblemVariables, ResolutionError, Solution, SolverModel, Variable, microlp,
    variable,
};
use homehook::engine::instance::Instance;

/// The least total `cost(card, hook)` if at most `most` of the cards without a hook may hang out of
/// order, or `None` if the solver finds the program infeasible.
///
/// Each of those cards gets another 0-1 variable for being out of order. For every two cards that
/// aren't, and every cut of the line of hooks, the later card is before the cut only if the earlier
/// one is.
pub fn cheapest_leaving_out(
    board: &Instance,
    cost: impl Fn(usize, usize) -> u64,
    most: u32,
) -> Option<u64> {
    let (cards, hooks) = (board.cards().len(), board.capacity().len());
    let mut variables = ProblemVariables::new();
    let hangs: Vec<Vec<Variable>> = (0..cards)
        .map(|_| variables.add_vector(variable().binary(), hooks))
        .collect();
    let outs: Vec<Expression> = (board.cards().iter())
        .map(|now| match now {
            Some(_) => Expression::default(),
            None => variables.add(variable().binary()).into(),
        })
        .collect();
    let mut total = Expression::default();
    for (card, here) in hangs.iter().enumerate() {
        for (hook, &hangs) in here.iter().enumerate() {
            total.add_mul(cost(card, hook) as f64, hangs);
        }
    }
    let mut model = variables.minimise(total.clone()).using(microlp);
    model.add_constraint(outs.iter().cloned().sum::<Expression>().leq(most));
    for here in &hangs {
        model.add_constraint(here.iter().sum::<Expression>().eq(1));
    }
    for (hook, &places) in board.capacity().iter().enumerate() {
        let load: Expression = hangs.iter().map(|here| here[hook]).sum();
        model.add_constraint(load.leq(places));
    }
    for later in 0..cards {
        for earlier in 0..later {
            let mut overtaken = -outs[earlier].clone() - outs[later].clone();
            for (&before, &after) in hangs[earlier].iter().zip(&hangs[later]) {
                overtaken += after - before;
                model.add_constraint(overtaken.clone().leq(0));
            }
        }
    }
    match model.solve() {
        Ok(solution) => Some(solution.eval(total).round() as u64),
        Err(ResolutionError::Infeasible) => None,
        Err(other) => panic!("{other}"),
    }
}

/// The least total `cost(card, hook)` of hanging each card on a hook with a free place.
pub fn cheapest_places(
    free: &[u64],
    cards: usize,
    cost: impl Fn(usize, usize) -> u64,
) -> Option<u64> {
    let mut variables = ProblemVariables::new();
    let hangs: Vec<Vec<Variable>> = (0..cards)
        .map(|_| variables.add_vector(variable().binary(), free.len()))
        .collect();
    let mut total = Expression::default();
    for (card, here) in hangs.iter().enumerate() {
        for (hook, &hangs) in here.iter().enumerate() {
            total.add_mul(cost(card, hook) as f64, hangs);
        }
    }
    let mut model = variables.minimise(total.clone()).using(microlp);
    for here in &hangs {
        model.add_constraint(here.iter().sum::<Expression>().eq(1));
    }
    for (hook, &free) in free.iter().enumerate() {
        let load: Expression = hangs.iter().map(|here| here[hook]).sum();
        model.add_constraint(load.leq(free as f64));
    }
    match model.solve() {
        Ok(solution) => Some(solution.eval(total).round() as u64),
        Err(ResolutionError::Infeasible) => None,
        Err(other) => panic!("{other}"),
    }
}
