"""The queue without a window."""

from datetime import date
from pathlib import Path

from finmeasure.marking.queue import Queue, QueuePhoto


def photo(name, state="to_do", **more):
    return QueuePhoto(name, Path(name), state, **more)


def test_what_most_needs_a_person_comes_first():
    queue = Queue(
        [
            photo("done", "confirmed"),
            photo("bad", "refused", reason="blurred"),
            photo("b"),
            photo("a"),
            photo("sure", "proposal", confidence=0.99),
            photo("unsure", "proposal", confidence=0.4),
            photo("half", "begun"),
        ]
    )
    assert [p.photo for p in queue] == ["half", "unsure", "sure", "a", "b", "bad", "done"]
    assert queue.current == "half"
    assert queue.progress == (2, 7)


def test_photos_keep_their_place_while_states_change():
    queue = Queue([photo("a"), photo("b"), photo("c")])
    queue.set_state("a", "confirmed")
    assert [p.photo for p in queue] == ["a", "b", "c"]
    assert queue.next_in_need().photo == "b"
    queue.current = "c"
    assert queue.next_in_need().photo == "b"
    queue.set_state("b", "refused", "upside down")
    assert queue["b"].reason == "upside down"
    queue.sort_again()
    assert [p.photo for p in queue] == ["c", "b", "a"]
    assert queue.next_in_need() is None  # c itself is the only one left


def test_filter_by_group_and_day():
    one, two = date(2026, 3, 1), date(2026, 3, 9)
    queue = Queue(
        [
            photo("a", group="bag 7", taken_on=one),
            photo("b", group="bag 8", taken_on=one),
            photo("c", group="bag 7", taken_on=two),
        ]
    )
    assert queue.groups == ("bag 7", "bag 8")
    assert queue.days == (one, two)
    queue.group = "bag 7"
    assert [p.photo for p in queue] == ["a", "c"]
    queue.day = two
    assert [p.photo for p in queue] == ["c"]
    assert queue.step(1).photo == "c"  # the current photo is filtered out: begin at the first
    queue.current = "c"
    assert queue.step(1) is None
    assert queue.progress == (0, 1)


def test_an_empty_queue_is_no_error():
    queue = Queue([])
    assert queue.current is None
    assert queue.step(1) is None
    assert queue.next_in_need() is None
    assert queue.progress == (0, 0)
