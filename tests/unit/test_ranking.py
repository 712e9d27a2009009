"""Also possible: nearly equal suspects stand once, and none is likelier than what the best leaves over."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.diagnosis.result import BenchCheck, Diagnosis, Explanation, Fault, FaultClass, Searched, Suspect
from matrixcheck.layout.places import LineKey
from matrixcheck.report.answer.build import answer_of
from matrixcheck.report.answer.folding import folded
from matrixcheck.report.answer.full import answer_in_full
from matrixcheck.report.answer.ranking import WORTH_SAYING, ranked
from tests.machines import saltmarsh_tram

LAYOUT = saltmarsh_tram()
CLOSE = 1e-9
FAULTS = tuple(
    Fault(fault=FaultClass.OPEN, part=f"Q{number}", lines=(LineKey("switches", "column", number),))
    for number in range(1, 9)
)


def named(name: str, probability: float, *faults: int) -> Suspect:
    """A suspect of some of the eight faults."""
    members = tuple(FAULTS[fault] for fault in faults)
    return Suspect(
        id=name, probability=probability, members=members, explains=(), contradicts=(), untested=(), says=f"says {name}"
    )


def diagnosis_of(
    explanations: dict[tuple[str, ...], float], *found: Suspect, checks: tuple[BenchCheck, ...] = ()
) -> Diagnosis:
    """A diagnosis with these explanations."""
    merged = tuple(Explanation(probability=chance, suspects=names) for names, chance in explanations.items())
    return Diagnosis(
        explanations=merged, suspects=found, cells=(), checks=checks, searched=Searched(exact=True, seconds=0.0)
    )


def check(name: str, do: str) -> BenchCheck:
    """A bench check of a suspect."""
    return BenchCheck(
        suspect=name,
        suspects=(name,),
        do=do,
        points=("a", "b"),
        power=False,
        expect="c",
        caution="",
        probability=0.5,
        cost=1,
    )


@st.composite
def diagnoses(draw: st.DrawFn) -> Diagnosis:
    """Up to seven suspects of the eight faults in up to six explanations, at most 1 together."""
    groups = draw(st.lists(st.sets(st.integers(0, 7), min_size=1), min_size=1, max_size=7, unique_by=frozenset))
    names = [f"s{number}" for number in range(1, len(groups) + 1)]
    chances = st.floats(0, 1)
    found = [named(name, draw(chances), *sorted(group)) for name, group in zip(names, groups, strict=True)]
    sets = draw(st.lists(st.sets(st.sampled_from(names)), max_size=6, unique_by=frozenset))
    weights = [draw(st.floats(0.001, 1)) for _ in sets]
    missing = draw(st.floats(0, 1))
    shares = sorted((weight / (sum(weights) + missing) for weight in weights), reverse=True)
    return diagnosis_of({tuple(sorted(one)): share for one, share in zip(sets, shares, strict=True)}, *found)


@given(diagnoses())
def test_folding_keeps_the_probability_of_all_explanations_together(diagnosis: Diagnosis) -> None:
    before, after = (sum(one.probability for one in each.explanations) for each in (diagnosis, folded(diagnosis)))
    assert abs(before - after) <= CLOSE


@given(diagnoses())
def test_explanations_that_are_shown_differ_and_stand_by_probability(diagnosis: Diagnosis) -> None:
    merged = folded(diagnosis).explanations
    assert len({frozenset(one.suspects) for one in merged}) == len(merged)
    chances = [one.probability for one in merged]
    assert chances == sorted(chances, reverse=True)


@given(diagnoses())
def test_what_is_also_possible_is_no_likelier_than_the_best_leaves_over_nor_than_the_cards_it_replaces(
    diagnosis: Diagnosis,
) -> None:
    answer = answer_of(diagnosis, LAYOUT, ())
    best = ranked(diagnosis).diagnosis.explanations[:1]
    for other in answer.also_possible:
        assert other.probability + best[0].probability <= 1 + CLOSE
        replaced = [card.probability for card in answer.cards if card.number in other.instead_of]
        assert other.probability <= min(replaced, default=1.0) + CLOSE
    chances = [one.probability for one in answer.also_possible]
    assert chances == sorted(chances, reverse=True)


@given(diagnoses())
def test_no_suspect_of_the_best_explanation_is_less_likely_than_that_and_none_is_above_1(diagnosis: Diagnosis) -> None:
    ranking = ranked(diagnosis)
    for one in (*ranking.shared, *ranking.private):
        assert ranking.sets[0].probability - CLOSE <= one.probability <= 1


@given(diagnoses())
def test_every_fault_of_every_explanation_worth_saying_is_still_named(diagnosis: Diagnosis) -> None:
    ranking = ranked(diagnosis)
    there = {fault for one in ranking.diagnosis.suspects for fault in one.members}
    for one in diagnosis.explanations:
        if one.probability >= WORTH_SAYING:
            for name in one.suspects:
                assert set(diagnosis.suspect(name).members) <= there


@given(diagnoses())
def test_all_that_is_named_is_among_the_suspects_that_are_shown(diagnosis: Diagnosis) -> None:
    merged = folded(diagnosis)
    ids = {one.id for one in merged.suspects}
    assert bool(merged.explanations) is bool(diagnosis.explanations)
    assert all(set(one.suspects) <= ids for one in merged.explanations)


def test_a_suspect_whose_faults_all_stand_in_the_best_is_merged_into_that_one() -> None:
    best, part = named("s1", 0.6, 1, 2, 3), named("s2", 0.99, 2)
    beside = named("s3", 0.3, 7)
    diagnosis = diagnosis_of({("s1",): 0.6, ("s2",): 0.2, ("s2", "s3"): 0.1}, best, part, beside)
    ranking = ranked(diagnosis)
    assert [(one.suspects, round(one.probability, 9)) for one in ranking.sets] == [(("s1",), 0.8), (("s1", "s3"), 0.1)]
    (other,) = answer_of(diagnosis, LAYOUT, ()).also_possible
    assert (other.probability, other.instead_of, other.faults) == (0.1, (), ("Switch column 8 is open",))


def test_a_suspect_that_differs_by_a_fault_or_two_is_merged_into_the_best_which_takes_these_over() -> None:
    best, near, far = named("s1", 0.6, 1, 2, 3), named("s2", 0.9, 1, 2, 3, 4), named("s3", 0.9, 1, 4, 5, 6, 7)
    diagnosis = diagnosis_of({("s1",): 0.6, ("s2",): 0.3, ("s3",): 0.1}, best, near, far)
    ranking = ranked(diagnosis)
    assert [one.id for one in ranking.shared] == ["s1"]
    assert ranking.shared[0].members == FAULTS[1:5]
    assert [one.probability for one in answer_of(diagnosis, LAYOUT, ()).also_possible] == [0.1]


def test_two_suspects_of_one_fault_each_are_not_nearly_the_same() -> None:
    diagnosis = diagnosis_of({("s1",): 0.6, ("s2",): 0.3}, named("s1", 0.6, 1), named("s2", 0.3, 2))
    (other,) = answer_of(diagnosis, LAYOUT, ()).also_possible
    assert (other.probability, other.instead_of, other.faults) == (0.3, (1,), ("Switch column 3 is open",))


def test_bench_checks_of_a_folded_suspect_go_along_and_stand_once() -> None:
    best, part = named("s1", 0.6, 1, 2), named("s2", 0.2, 2)
    both = check("s1", "look").model_copy(update={"suspects": ("s1", "s2")})
    checks = (both, check("s2", "measure"))
    merged = folded(diagnosis_of({("s1",): 0.6, ("s2",): 0.2}, best, part, checks=checks))
    assert [(one.suspects, one.do) for one in merged.checks] == [(("s1",), "look"), (("s1",), "measure")]


def test_no_face_says_of_anything_else_that_it_is_likelier_than_the_best_leaves_over() -> None:
    """Planted: a suspect that by itself is nearly certain stands in an unlikely explanation only."""
    diagnosis = diagnosis_of(
        {("s1",): 0.94, ("s2", "s3"): 0.06}, named("s1", 0.94, 1), named("s2", 0.999, 1, 2, 3), named("s3", 0.1, 5)
    )
    answer = answer_of(diagnosis, LAYOUT, ())
    assert [card.suspect for card in answer.cards] == ["s1"]
    assert [one.probability for one in answer.also_possible] == [0.06]
    assert "99 %" not in "".join(line.text for line in answer_in_full(answer, diagnosis, 78))
