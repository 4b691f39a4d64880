"""Sampling of received lots: plans, what they achieve, how strictly the next lot is inspected, what a sample proves.

Pure: no bench, no store, no screen. Shares of bad units are numbers from 0 to 1, an AQL is in percent as in the trade.

Plans, each with `accepts_with(share)`, `tested_on_average(share)`, `tested_if_accepted(share)`:
    plan.SinglePlan(sample_size, acceptance_number)     .decide(bad), .decided_early(tested, bad), .for_lot(size)
    plan.whole_lot(size)                                every unit
    standard.standard_plan(size, aql, level=, severity=)    ISO 2859-1: StandardPlan with .letter, .table, .plan
    design.plan_by_two_points(Point, Point, lot_size)   smallest sample that keeps producer's and consumer's risk
    design.zero_acceptance_plan(Point, lot_size)        no bad unit allowed
    variables.variables_plan(Point, Point, known_spread=)   by the values of a set point; .judge(values, limits)
    sequential_design.sequential_plan(Point, Point)     unit by unit; .decided_early(tested, bad), .bounds(tested, bad)
What they achieve:
    curve.curve_of(plan, lot_size)                      operating characteristic, average outgoing quality, effort
    curve.outgoing_limit(plan, lot_size)                the worst average outgoing quality
Of a lot and its supplier:
    estimate.Seen(tested, bad, ending)                  .estimate; lot_bounds(seen, lot_size)
    switching.standing_after(history) -> Standing       .severity, .stopped; standing_words(standing)
    proof.seen_of(plan, tested, bad)                    Seen and decision, or None while testing goes on
    proof.promises(plan, lot_size)                      what a plan promises, in words
    proof.proof_of(plan, seen, decision, lot_size)      what the decision proves, and what not, in words
What cannot be planned raises plan.NoSuchPlan, whose words say what is allowed.
"""
