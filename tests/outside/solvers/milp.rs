//! The re-hang as a mixed integer linear program for a general solver.
//!
//! One 0-1 variable for each card and hook means that the card hangs there. It doesn't use the
//! engine's line of free places: order is a constraint on running sums over hooks, and capacity one
//! on each hook.

use good_lp::{
    Expression, ProblemVariables, ResolutionError, Solution, SolverModel, Variable, microlp,
    variable,
};
use homehook::engine::instance::Instance;

/// The homes with the least total `cost(card, hook)`, or `None` if the solver finds the program
/// infeasible.
pub fn cheapest_homes(board: &Instance, cost: impl Fn(usize, usize) -> u64) -> Option<Vec<usize>> {
    let (cards, hooks) = (board.cards().len(), board.capacity().len());
    let mut variables = ProblemVariables::new();
    let hangs: Vec<Vec<Variable>> = (0..cards)
        .map(|_| variables.add_vector(variable().binary(), hooks))
        .collect();
    let mut total = Expression::default();
    for (card, here) in hangs.iter().enumerate() {
        for (hook, &hangs) in here.iter().enumerate() {
            total.add_mul(cost(card, hook) as f64, hangs);
        }
    }
    let mut model = variables.minimise(total).using(microlp);
    for here in &hangs {
        model.add_constraint(here.iter().sum::<Expression>().eq(1));
    }
    for (hook, &places) in board.capacity().iter().enumerate() {
        let load: Expression = hangs.iter().map(|here| here[hook]).sum();
        model.add_constraint(load.leq(places));
    }
    for pair in hangs.windows(2) {
        // At every cut of the line of hooks, a card is before the cut only if the previous card is.
        let mut overtaken = Expression::default();
        for (&before, &after) in pair[0].iter().zip(&pair[1]) {
            overtaken += after - before;
            model.add_constraint(overtaken.clone().leq(0));
        }
    }
    let solution = match model.solve() {
        Ok(solution) => solution,
        Err(ResolutionError::Infeasible) => return None,
        Err(other) => panic!("{other}"),
    };
    let home = |here: &Vec<Variable>| here.iter().position(|&hangs| solution.value(hangs) > 0.5);
    Some(hangs.iter().map(|here| home(here).unwrap()).collect())
}
