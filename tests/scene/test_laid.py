"""What is seen is what laying everything anew gives, and what did not change is not laid again."""

from hypothesis import given
from hypothesis import strategies as st

from cel_check.scene.laid import Laid

ORDERS = st.lists(st.lists(st.sampled_from("ABC"), max_size=4), max_size=12)


@given(orders=ORDERS)
def test_any_orders_one_after_the_other_are_seen_as_if_laid_anew(orders):
    laid = Laid("", lambda below, name: below + name)
    assert [laid.seen(order) for order in orders] == ["".join(order) for order in orders]


def test_only_what_lies_on_the_lowest_change_is_laid_again():
    done = []

    def lay(below, name):
        done.append(name)
        return (*below, name)

    laid = Laid((), lay)
    first = laid.seen("ABC")
    assert laid.seen("ABC") is first
    assert laid.seen("ABD") == ("A", "B", "D")
    assert laid.seen("A") == ("A",)
    assert "".join(done) == "ABCD"
