"""The engine beside pyagrum, a general-purpose Bayesian-network library, on models that both can express.

Three kinds: a noisy-OR network by the library's own noisy-OR nodes; one fault over a log, its tables
written out; and whole drawn cases, in which each draw of an effect is a node and each report is a node
that has all its run's draws as parents.
"""

import warnings
from itertools import product

import numpy as np
import pytest
from judges import weigh_all
from laws.evidence_cases import Size, draw_case
from oracles import ROUNDING, weight_of

from halfsplit.model.evidence import NOTHING, Acts, Effect, Evidence, Move, Reading, Root, SignAsked

with warnings.catch_warnings():
    # The library's binding warns when it loads, and an error at that place ends Python.
    warnings.simplefilter("ignore", DeprecationWarning)
    import pyagrum

MIDDLE = Size(roots=(7, 9), patterns=(1, 2), readings=(3, 5), contexts=(0, 2), moves=(0, 3), p_touched=0.4)
"""More roots than literal enumeration can do; few enough draws in one run for a full table."""


def close(p):
    return pytest.approx(p, rel=1e-9, abs=1e-15)


def posteriors(net, told, names):
    """P(told), and for each named node its posterior."""
    inference = pyagrum.LazyPropagation(net)
    inference.setEvidence(told)
    inference.makeInference()
    return inference.evidenceProbability(), {name: np.ravel(inference.posterior(name).toarray()) for name in names}


def add_node(net, name, values, parents, table):
    """A node whose table has the axes of the parents first and its own last."""
    net.add(pyagrum.LabelizedVariable(name, name, values))
    for parent in parents:
        net.addArc(parent, name)
    sizes = [range(net.variable(parent).domainSize()) for parent in parents]
    for place in product(*sizes):
        net.cpt(name)[dict(zip(parents, place, strict=True))] = list(table[place])


# --- noisy-OR ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(20))
def test_a_noisy_or_network_gives_the_same_posteriors(seed):
    rng = np.random.default_rng(seed)
    priors = rng.choice((0.001, 0.02, 0.1, 0.4), size=10)
    leaks = rng.choice((0.0, 0.001, 0.05), size=6)
    links = rng.choice((0.0, 0.05, 0.5, 0.9, 1.0), size=(6, 10))
    is_found = np.where((links > 0).any(axis=1) | (leaks > 0), rng.random(6) < 0.6, False)

    net = pyagrum.BayesNet()
    for fault, p in enumerate(priors):
        add_node(net, f"fault{fault}", 2, [], np.array([1 - p, p]))
    for finding, leak in enumerate(leaks):
        node = net.addNoisyORNet(pyagrum.LabelizedVariable(f"finding{finding}", "", 2), float(leak))
        for fault, link in enumerate(links[finding]):
            if link > 0:
                net.addWeightedArc(net.idFromName(f"fault{fault}"), node, float(link))

    shown = Effect(shown=1)
    roots = tuple(
        Root(
            f"fault{fault}",
            ("absent", "present"),
            np.array([1 - p, p]),
            {
                f"finding{finding}": (None, Acts(((float(link), shown),)))
                for finding, link in enumerate(links[:, fault])
                if link > 0
            },
        )
        for fault, p in enumerate(priors)
    )
    readings = tuple(
        Reading(
            f"finding{finding}",
            0,
            ((float(leak), shown), (1 - float(leak), NOTHING)),
            signs=(SignAsked(0, 0, float(found), float(not found)),),
        )
        for finding, (leak, found) in enumerate(zip(leaks, is_found, strict=True))
    )
    told = {f"finding{finding}": int(found) for finding, found in enumerate(is_found)}
    p_told, of_fault = posteriors(net, told, [root.id for root in roots])

    said = weigh_all(Evidence((), roots, readings))
    assert said.p_readings == close(p_told)
    for name, p_states in of_fault.items():
        assert said.p_states(name) == close(p_states)


# --- one fault over a log ----------------------------------------------------------------------------


def test_a_fault_that_comes_and_goes_is_a_hidden_chain():
    start = np.array([0.7, 0.2, 0.1])
    reseat = np.array([[0.95, 0.03, 0.02], [0.6, 0.3, 0.1], [0.5, 0.25, 0.25]])
    knock = np.array([[0.8, 0.2, 0.0], [0.0, 1.0, 0.0], [0.1, 0.0, 0.9]])
    p_fails = np.array([0.01, 0.5, 0.9])
    failed = [True, True, False, True, False]

    net = pyagrum.BayesNet()
    add_node(net, "state0", 3, [], start)
    for time, matrix in enumerate([np.eye(3), reseat, knock, reseat, knock]):
        add_node(net, f"state{time + 1}", 3, [f"state{time}"], matrix)
        add_node(net, f"run{time}", 2, [f"state{time + 1}"], np.stack([1 - p_fails, p_fails], axis=-1))
    p_told, of_state = posteriors(net, {f"run{time}": int(fails) for time, fails in enumerate(failed)}, ["state5"])

    root = Root(
        "fault",
        ("absent", "weak", "dead"),
        start,
        {f"run{time}": tuple(Acts(((p, Effect(stop=2)),)) for p in p_fails) for time in range(5)},
        tuple(Move(time, matrix) for time, matrix in enumerate([reseat, knock, reseat, knock], 1)),
    )
    readings = tuple(
        Reading(f"run{time}", time, stop_weights={2: float(fails)}, other_stops=float(not fails))
        for time, fails in enumerate(failed)
    )
    said = weigh_all(Evidence((), (root,), readings))
    assert said.p_readings == close(p_told)
    assert said.p_states("fault") == close(of_state["state5"])


# --- drawn cases -------------------------------------------------------------------------------------


def outcomes(acts):
    """Effects and their probabilities, "nothing" last."""
    pairs = list(acts.outcomes) if acts else []
    rest = 1 - sum(p for p, _ in pairs)
    return [*pairs, (rest if rest > ROUNDING else 0.0, NOTHING)]


def network(evidence):
    """The evidence as a network, what is told in it, and the last node of each root."""
    net = pyagrum.BayesNet()
    told, last = {}, {}
    for context in evidence.contexts:
        add_node(net, context.id, len(context.values), [], np.array(context.p))
    state_at = {}
    for root in evidence.roots:
        nodes = [f"{root.id}_0"]
        add_node(net, nodes[0], len(root.states), root.given, root.start)
        for number, move in enumerate(root.moves, 1):
            nodes.append(f"{root.id}_{number}")
            add_node(net, nodes[-1], len(root.states), [*move.given, nodes[-2]], move.matrix)
        last[root.id] = nodes[-1]
        for reading in evidence.readings:
            state_at[root.id, reading.id] = nodes[sum(move.time <= reading.time for move in root.moves)]
    for reading in evidence.readings:
        for run in range(reading.count):
            name = f"{reading.id}_run{run}"
            add_run(net, name, evidence, reading, state_at)
            told[name] = 1
    return net, told, last


def add_run(net, name, evidence, reading, state_at):
    """The draws of one run, and its report (0 = another one, 1 = this one)."""
    drawers, effects = [f"{name}_base"], [[effect for _, effect in reading.base]]
    add_node(net, drawers[0], len(reading.base), [], np.array([p for p, _ in reading.base]))
    for root in evidence.roots:
        if reading.id not in root.acts:
            continue
        of_state = [outcomes(acts) for acts in root.acts[reading.id]]
        kinds = list(dict.fromkeys(effect for pairs in of_state for _, effect in pairs))
        table = np.zeros((len(root.states), len(kinds)))
        for state, pairs in enumerate(of_state):
            for p, effect in pairs:
                table[state, kinds.index(effect)] += p
        drawers.append(f"{name}_{root.id}")
        add_node(net, drawers[-1], len(kinds), [state_at[root.id, reading.id]], table)
        effects.append(kinds)
    sizes = {context.id: len(context.values) for context in evidence.contexts}
    given = [sizes[context] for context in reading.given]
    report = np.empty((*given, *map(len, effects), 2))
    for place in np.ndindex(report.shape[:-1]):
        values = dict(zip(reading.given, place, strict=False))
        drawn = [kinds[i] for kinds, i in zip(effects, place[len(given) :], strict=True)]
        weight = float(weight_of(drawn, reading, values))
        report[place] = 1 - weight, weight
    add_node(net, name, 2, [*reading.given, *drawers], report)


@pytest.mark.parametrize("seed", range(40))
def test_a_drawn_case_written_out_as_a_network_gives_the_same_posteriors(seed):
    evidence = draw_case(seed, MIDDLE).evidence
    net, told, last = network(evidence)
    shared = [context.id for context in evidence.contexts]
    p_told, of_node = posteriors(net, told, [*last.values(), *shared])

    said = weigh_all(evidence)
    assert said.p_readings == close(p_told)
    for root in evidence.roots:
        assert said.p_states(root.id) == close(of_node[last[root.id]])
    for name in shared:
        assert said.context(name) == close(of_node[name])
