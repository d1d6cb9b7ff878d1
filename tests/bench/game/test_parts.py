"""A long run can be stopped at any time, and goes on with what is in its file."""

from pathlib import Path

import pytest

from tests.bench.game.parts import OtherRun, Part, read, run


def parts(path: Path, count: int, done: list[int], settings: Part | None = None) -> list[Part]:
    def measure(number: int) -> Part:
        done.append(number)
        return {"number": number}

    return list(run(path, settings or {"seed": 1, "pair": (1, 2)}, count, measure))


def test_a_run_goes_on_where_it_was_stopped(tmp_path: Path) -> None:
    path, done = tmp_path / "results.jsonl", list[int]()
    assert parts(path, 2, done) == [{"number": 0}, {"number": 1}]
    assert parts(path, 4, done) == [{"number": number} for number in range(4)]
    assert done == [0, 1, 2, 3]
    assert read(path) == ({"seed": 1, "pair": [1, 2]}, [{"number": number} for number in range(4)])


def test_what_was_stopped_in_the_middle_of_a_part_is_kept_up_to_it(tmp_path: Path) -> None:
    path, done = tmp_path / "results.jsonl", list[int]()
    run_of_three = run(path, {"seed": 1}, 3, lambda number: {"number": number})
    next(run_of_three)
    run_of_three.close()
    assert parts(path, 3, done, {"seed": 1}) == [{"number": number} for number in range(3)]
    assert done == [1, 2]


def test_a_line_that_was_cut_off_is_measured_again(tmp_path: Path) -> None:
    path, done = tmp_path / "results.jsonl", list[int]()
    parts(path, 3, done)
    path.write_text(path.read_text()[:-5])
    assert parts(path, 3, done) == [{"number": number} for number in range(3)]
    assert done == [0, 1, 2, 2]


def test_the_file_of_another_run_is_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "results.jsonl"
    parts(path, 1, [])
    before = path.read_bytes()
    with pytest.raises(OtherRun):
        parts(path, 1, [], {"seed": 2})
    assert path.read_bytes() == before
