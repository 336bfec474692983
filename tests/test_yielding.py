"""The rule by which stress is summed through the thickness of yielding metal."""

import numpy as np
import pytest

from refdb.science.plate.yielding import _lobatto


@pytest.mark.parametrize("points", [3, 4, 5, 10, 15, 16])
def test_nodes_are_real_in_order_and_symmetric_with_the_ends_among_them(points):
    nodes, weights = _lobatto(points)
    assert nodes.dtype == weights.dtype == np.float64
    assert (nodes[0], nodes[-1], len(nodes)) == (-1.0, 1.0, points)
    assert np.all(np.diff(nodes) > 0)
    assert np.all(weights > 0)
    np.testing.assert_array_equal(nodes, -nodes[::-1])
    np.testing.assert_allclose(weights, weights[::-1], rtol=1e-14)


@pytest.mark.parametrize("points", [3, 4, 5, 10, 15, 16])
def test_powers_are_summed_exactly_to_degree_2n_minus_3_and_no_further(points):
    """Against ∫ uᵏ du over [-1, 1] by hand. A rule of n points with both ends given can do no more than 2n - 3."""
    nodes, weights = _lobatto(points)
    for k in range(2 * points - 2):
        assert weights @ nodes**k == pytest.approx((1 + (-1) ** k) / (k + 1), abs=1e-14), k
    beyond = 2 * points - 2
    assert abs(weights @ nodes**beyond - 2 / (beyond + 1)) > 1e-10


def test_rules_of_four_and_five_points_in_closed_form():
    """Nodes ±√(1/5) and ±√(3/7), 0, from the derivative of the third and the fourth Legendre polynomial by hand."""
    nodes, weights = _lobatto(4)
    np.testing.assert_allclose(nodes, [-1, -np.sqrt(1 / 5), np.sqrt(1 / 5), 1], rtol=1e-14)
    np.testing.assert_allclose(weights, [1 / 6, 5 / 6, 5 / 6, 1 / 6], rtol=1e-14)
    nodes, weights = _lobatto(5)
    np.testing.assert_allclose(nodes, [-1, -np.sqrt(3 / 7), 0, np.sqrt(3 / 7), 1], rtol=1e-14, atol=1e-15)
    np.testing.assert_allclose(weights, [1 / 10, 49 / 90, 32 / 45, 49 / 90, 1 / 10], rtol=1e-14)
