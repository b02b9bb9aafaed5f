"""Compiled: what happens to many lanes side by side over one piece, and what is counted of it.

For: the loops in which the kernel spends its time; each becomes vector code of its own. Must not know: where lanes
come from. Neighbours: ``reference`` (the same equations written out), ``kernel`` (calls it), ``kernel_rows``.
"""
# ruff: noqa: ANN401, FURB136  one loop, one function; max() and min() do not become vector code here

from __future__ import annotations

import math
from typing import Any

from llvmlite import ir  # type: ignore[import-untyped]
from numba import types
from numba.extending import intrinsic

from shipwindow.box import kernel_rows as r
from shipwindow.box.kernel_rows import LANES, F, Floats, U, compiled


@intrinsic
def _times_power(typing_context: Any, value: Any, rounded: Any) -> Any:  # noqa: ARG001  numba's own signature
    """Multiply by two to the whole number that MAGIC left in the low bits."""
    if not (value == types.float32 and rounded == types.float32):
        return None
    signature = types.float32(types.float32, types.float32)

    def emit(_context: Any, builder: Any, _signature: Any, args: Any) -> Any:
        whole = ir.IntType(32)
        bits = builder.bitcast(args[0], whole)
        power = builder.shl(builder.bitcast(args[1], whole), ir.Constant(whole, 23))
        return builder.bitcast(builder.add(bits, power), ir.FloatType())

    return signature, emit


_scaled: Any = _times_power  # called with two arguments; numba hands in the first


@compiled
def _exp2(x: Any) -> Any:
    """Two to the power x, relative error below 3e-6."""
    x = r.LOWEST_POWER if x < r.LOWEST_POWER else x
    x = r.HIGHEST_POWER if x > r.HIGHEST_POWER else x
    return _exp2_within(x)


@compiled
def _exp2_within(x: Any) -> Any:
    """As _exp2, for an x that is known to stay within +-120."""
    rounded = x + r.MAGIC
    rest = x - (rounded - r.MAGIC)
    return _scaled(r.ONE + rest * (r.C1 + rest * (r.C2 + rest * (r.C3 + rest * (r.C4 + rest * r.C5)))), rounded)


# The wall's outside is taken at a nominal conductance; what the film adds or takes is a source at the wall. Its mean
# follows from the mean wall temperature it makes itself: q = a (T_outer - known mean) / (x + a A), in closed form.
# The wet wall's conductance never changes, so its outside enters as a second, plain input.
@compiled
def go_none(s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, now: Any) -> None:
    """Move a box without a pack over a piece."""
    half_s = r.HALF * whole_s
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        outer, g = x[r.OUTER + j], c[r.G_NOMINAL + j]
        resistance = c[r.R_WALL + j] + x[r.FILM + j] * c[r.PER_OUTER + j]
        more = c[r.FACTOR + j] - g * resistance
        y0, y1, y2 = s[r.Y0 + j], s[r.Y1 + j], s[r.Y2 + j]
        mean_e = k[r.EM0 + kj] * y0 + k[r.EM1 + kj] * y1 + k[r.EM2 + kj] * y2
        wet = x[r.WET + j]
        mean_e += k[r.A_EW + kj] * wet
        usual = g * outer
        by_source = k[r.A_EE + kj]
        source = usual + more * (outer - mean_e - by_source * usual) / (resistance + more * by_source)
        loss = k[r.LM0 + kj] * y0 + k[r.LM1 + kj] * y1 + k[r.LM2 + kj] * y2
        s[r.WALL_J + j] += whole_s * (k[r.NET_E + kj] * source + k[r.NET_W + kj] * wet - loss)
        y0 += k[r.ES0 + kj] * source + k[r.WS0 + kj] * wet - k[r.GONE0 + kj] * y0
        y1 = k[r.KEEP1 + kj] * y1 + k[r.ES1 + kj] * source + k[r.WS1 + kj] * wet
        y2 = k[r.KEEP2 + kj] * y2 + k[r.ES2 + kj] * source + k[r.WS2 + kj] * wet
        s[r.Y0 + j], s[r.Y1 + j], s[r.Y2 + j] = y0, y1, y2
        water = y0 + y1 + y2
        s[r.AREA + j] += half_s * (s[r.WATER + j] + water)
        s[r.WATER + j] = water
        low, high, low_at, high_at = s[r.LOW + j], s[r.HIGH + j], s[r.LOW_AT + j], s[r.HIGH_AT + j]
        s[r.LOW_AT + j] = now if water < low else low_at
        s[r.LOW + j] = water if water < low else low
        s[r.HIGH_AT + j] = now if water > high else high_at
        s[r.HIGH + j] = water if water > high else high


@compiled
def go_cold(s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, now: Any) -> None:
    """Move a box with a cold pack, whose heat content is solved together with it: never melts more than there is."""
    half_s = r.HALF * whole_s
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        outer, g = x[r.OUTER + j], c[r.G_NOMINAL + j]
        resistance = c[r.R_WALL + j] + x[r.FILM + j] * c[r.PER_OUTER + j]
        more = c[r.FACTOR + j] - g * resistance
        y0, y1, y2 = s[r.Y0 + j], s[r.Y1 + j], s[r.Y2 + j]
        mean_e = k[r.EM0 + kj] * y0 + k[r.EM1 + kj] * y1 + k[r.EM2 + kj] * y2
        mean_h = k[r.HM0 + kj] * y0 + k[r.HM1 + kj] * y1 + k[r.HM2 + kj] * y2
        wet = x[r.WET + j]
        mean_e += k[r.A_EW + kj] * wet
        usual = g * outer
        by_source = k[r.A_EE + kj]
        place = more / (resistance + more * by_source)
        source = usual + place * (outer - mean_e - by_source * usual)
        by_pack = k[r.A_EP + kj]
        mean_h += k[r.A_HE + kj] * source + k[r.A_HW + kj] * wet
        kept = r.ONE - (k[r.A_HP + kj] - k[r.A_HE + kj] * place * by_pack)
        flow = c[r.G_PACK + j] * whole_s
        stiff = r.HALF * flow * kept
        pack, melts, latent = s[r.PACK + j], c[r.MELTS + j], c[r.LATENT + j]
        right = s[r.CONTENT + j] + flow * mean_h - stiff * (pack + melts)
        frozen = right if right < r.ZERO else r.ZERO
        melted = right - latent
        melted = melted if melted > r.ZERO else r.ZERO
        change = frozen / (c[r.SOLID + j] + stiff) + melted / (c[r.LIQUID + j] + stiff)
        new = melts + change
        s[r.CONTENT + j] = right - stiff * change
        s[r.PACK + j] = new
        mean_p = r.HALF * (pack + new)
        source -= place * by_pack * mean_p
        loss = k[r.LM0 + kj] * y0 + k[r.LM1 + kj] * y1 + k[r.LM2 + kj] * y2
        s[r.WALL_J + j] += whole_s * (
            k[r.NET_E + kj] * source + k[r.NET_W + kj] * wet + k[r.NET_P + kj] * mean_p - loss
        )
        y0 += k[r.ES0 + kj] * source + k[r.PS0 + kj] * mean_p + k[r.WS0 + kj] * wet - k[r.GONE0 + kj] * y0
        y1 = k[r.KEEP1 + kj] * y1 + k[r.ES1 + kj] * source + k[r.PS1 + kj] * mean_p + k[r.WS1 + kj] * wet
        y2 = k[r.KEEP2 + kj] * y2 + k[r.ES2 + kj] * source + k[r.PS2 + kj] * mean_p + k[r.WS2 + kj] * wet
        s[r.Y0 + j], s[r.Y1 + j], s[r.Y2 + j] = y0, y1, y2
        water = y0 + y1 + y2
        s[r.AREA + j] += half_s * (s[r.WATER + j] + water)
        s[r.WATER + j] = water
        low, high, low_at, high_at = s[r.LOW + j], s[r.HIGH + j], s[r.LOW_AT + j], s[r.HIGH_AT + j]
        s[r.LOW_AT + j] = now if water < low else low_at
        s[r.LOW + j] = water if water < low else low
        s[r.HIGH_AT + j] = now if water > high else high_at
        s[r.HIGH + j] = water if water > high else high


@compiled
def enter_pressure(s: Floats, c: Floats, pressure: Floats) -> None:
    """Let outside air in where the pressure rises; where it falls the mixture leaves as it is."""
    for lane in range(LANES):
        j = U(lane)
        now, before, held = pressure[j], s[r.PRESSURE + j], s[r.OXYGEN + j]
        drawn = (now - before) / now
        drawn = drawn if drawn > r.ZERO else r.ZERO
        s[r.OXYGEN + j] = held + drawn * (r.IN_AIR - held)
        s[r.PRESSURE + j] = now
        s[r.AIR_HELD + j] = c[r.AIR_M3 + j] * now
        s[r.PER_AIR + j] = r.ONE / (c[r.AIR_M3 + j] * now)


@compiled
def buoyant(s: Floats, c: Floats, x: Floats) -> None:
    """Exchange through the lid hole, as oxygen.buoyant_from_terms."""
    for lane in range(LANES):
        j = U(lane)
        p, head = s[r.PRESSURE + j], s[r.HEAD + j]
        # (head - air) / air_Kabs, from 1 / air_Kabs
        step = (head + r.ZERO_C) * x[r.PER_KABS + j] - r.ONE
        step = step if step > r.TINY else r.TINY
        inertial = c[r.INERTIAL + j] * math.sqrt(step)
        viscous = c[r.VISCOUS + j] * step * p
        turning = c[r.TURNING + j] * step * p * p
        moving = turning - r.ONE
        moving = moving if moving > r.ZERO else r.ZERO
        s[r.BUOYANT + j] = moving * inertial * viscous / ((turning + r.TINY) * (inertial + viscous + r.SMALLEST_W))


@compiled
def other_order(s: Floats, c: Floats) -> None:
    """Put iron left to the power of the decay order, where ``expect`` took its square root."""
    for lane in range(LANES):
        j = U(lane)
        left, most = s[r.LEFT + j], s[r.MOST_W + j]
        burn = s[r.READY_W + j] * F(left ** c[r.ORDER + j])
        s[r.BURN_W + j] = burn if burn < most else most


@compiled
def expect(s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, ahead: Any, square_root: Any) -> None:
    """Find the mean headspace to expect and how fast the warmer would burn there in fresh air."""
    per_s, middle = r.PER_IN_AIR / whole_s, r.HALF * whole_s
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        outer, g = x[r.OUTER + j], c[r.G_NOMINAL + j]
        resistance = c[r.R_WALL + j] + x[r.FILM + j] * c[r.PER_OUTER + j]
        more = c[r.FACTOR + j] - g * resistance
        y0, y1, y2, y3 = s[r.Y0 + j], s[r.Y1 + j], s[r.Y2 + j], s[r.Y3 + j]
        mean_e = k[r.EM0 + kj] * y0 + k[r.EM1 + kj] * y1 + k[r.EM2 + kj] * y2 + k[r.EM3 + kj] * y3
        mean_h = k[r.HM0 + kj] * y0 + k[r.HM1 + kj] * y1 + k[r.HM2 + kj] * y2 + k[r.HM3 + kj] * y3
        wet = x[r.WET + j]
        mean_e += k[r.A_EW + kj] * wet
        mean_h += k[r.A_HW + kj] * wet
        usual = g * outer
        by_source = k[r.A_EE + kj]
        place = more / (resistance + more * by_source)
        source = usual + place * (outer - mean_e - by_source * usual)
        by_pack = place * k[r.A_EP + kj]
        # the heat expected goes on as it changed between the last two pieces
        guess = s[r.LAST_W + j] + ahead * s[r.SLOPE_W + j]
        guess = guess if guess > r.ZERO else r.ZERO
        head = mean_h + k[r.A_HE + kj] * (source - by_pack * guess) + k[r.A_HP + kj] * guess
        s[r.HEAD + j] = head
        s[r.BASE + j] = source
        s[r.PLACE + j] = by_pack
        s[r.MEAN_LOSS_W + j] = (
            k[r.LM0 + kj] * y0 + k[r.LM1 + kj] * y1 + k[r.LM2 + kj] * y2 + k[r.LM3 + kj] * y3 - k[r.NET_W + kj] * wet
        )
        # how fast it would burn in fresh air, and no faster than iron is left
        starting, spent = s[r.STARTING + j], s[r.SPENT + j]
        s[r.STARTING + j] = k[r.START_KEEP + kj] * starting
        within = head if head > r.COLDEST_C else r.COLDEST_C
        within = within if within < r.WARMEST_C else r.WARMEST_C
        share = r.A0 + within * (r.A1 + within * (r.A2 + within * (r.A3 + within * (r.A4 + within * r.A5))))
        ready = r.PER_IN_AIR * c[r.FULL_W + j] * s[r.PRESSURE + j] * (r.ONE - k[r.START_MEAN + kj] * starting) * share
        left = r.ONE - spent - middle * guess * c[r.PER_ENERGY + j]
        left = left if left > r.ZERO else r.ZERO
        most = (r.ONE - spent) * c[r.ENERGY + j] * per_s
        most = most if most > r.ZERO else r.ZERO
        burn = ready * math.sqrt(left)
        s[r.BURN_W + j] = burn if burn < most else most
        if not square_root:
            s[r.LEFT + j], s[r.READY_W + j], s[r.MOST_W + j] = left, ready, most


@compiled
def go_heat(
    s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, now: Any, before_s: Any, has_hole: Any,
    square_root: Any,
) -> None:  # fmt: skip
    """Move a box with a warmer, which burns what iron and oxygen allow, never more than there is."""
    ahead = r.HALF * (whole_s + before_s)
    expect(s, c, k, x, at, whole_s, ahead, square_root)
    if not square_root:
        other_order(s, c)
    if has_hole:
        buoyant(s, c, x)
    per_ahead_s, half_s = r.ONE / ahead, r.HALF * whole_s
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        burn = s[r.BURN_W + j]
        supply = c[r.SUPPLY + j] * ((c[r.LEAK + j] + s[r.BUOYANT + j]) * s[r.PRESSURE + j] + c[r.DIFFUSION + j])
        # the share of oxygen runs to its rest; straight in itself for frozen burn and supply, so it stays above 0
        rate = burn * r.USED_M3_J + supply
        per_rate = r.ONE / (rate + r.SMALLEST_RATE)
        rest = supply * r.IN_AIR * per_rate
        decay = rate * whole_s * s[r.PER_AIR + j]
        # (1 - exp(-decay)) / decay, as a quotient that takes no more than there is however fast the air changes
        mean = (r.ONE + decay * (r.TENTH + decay * r.SIXTIETH)) / (
            r.ONE + decay * (r.SIX_TENTHS + decay * (r.THREE_TWENTIETHS + decay * r.SIXTIETH))
        )
        above = s[r.OXYGEN + j] - rest
        s[r.OXYGEN + j] -= above * mean * decay
        heat_W = burn * (rest + above * mean)
        s[r.GIVEN_J + j] += heat_W * whole_s
        s[r.SPENT + j] += heat_W * whole_s * c[r.PER_ENERGY + j]
        s[r.SLOPE_W + j] = (heat_W - s[r.LAST_W + j]) * per_ahead_s
        s[r.LAST_W + j] = heat_W
        source = s[r.BASE + j] - s[r.PLACE + j] * heat_W
        s[r.WALL_J + j] += whole_s * (k[r.NET_E + kj] * source + k[r.NET_P + kj] * heat_W - s[r.MEAN_LOSS_W + j])
        wet = x[r.WET + j]
        y0 = s[r.Y0 + j]
        y0 += k[r.ES0 + kj] * source + k[r.PS0 + kj] * heat_W + k[r.WS0 + kj] * wet - k[r.GONE0 + kj] * y0
        y1 = k[r.KEEP1 + kj] * s[r.Y1 + j] + k[r.ES1 + kj] * source + k[r.PS1 + kj] * heat_W + k[r.WS1 + kj] * wet
        y2 = k[r.KEEP2 + kj] * s[r.Y2 + j] + k[r.ES2 + kj] * source + k[r.PS2 + kj] * heat_W + k[r.WS2 + kj] * wet
        y3 = k[r.KEEP3 + kj] * s[r.Y3 + j] + k[r.ES3 + kj] * source + k[r.PS3 + kj] * heat_W + k[r.WS3 + kj] * wet
        s[r.Y0 + j], s[r.Y1 + j], s[r.Y2 + j], s[r.Y3 + j] = y0, y1, y2, y3
        water = y0 + y1 + y2 + y3
        s[r.AREA + j] += half_s * (s[r.WATER + j] + water)
        s[r.WATER + j] = water
        low, high, low_at, high_at = s[r.LOW + j], s[r.HIGH + j], s[r.LOW_AT + j], s[r.HIGH_AT + j]
        s[r.LOW_AT + j] = now if water < low else low_at
        s[r.LOW + j] = water if water < low else low
        s[r.HIGH_AT + j] = now if water > high else high_at
        s[r.HIGH + j] = water if water > high else high


# ---------------------------------------------------------------------------- what comes of it
@compiled
def count_up(s: Floats, c: Floats, x: Floats, since_s: Any) -> None:
    """Count what the water met since it was last counted, taken as a straight line of its slope and its mean.

    Doses and hours are those of the outermost bag, which is nearer than the mean to the outside as it is now. A side no
    lane reached is left out: it would add nothing but zeros.
    """
    part_h, per_s = since_s * r.PER_H, r.ONE / since_s
    hot = cold = 0
    for lane in range(LANES):
        j = U(lane)
        now = s[r.WATER + j]
        middle, half = s[r.AREA + j] * per_s, r.HALF * (now - s[r.COUNTED + j])
        s[r.COUNTED + j], s[r.AREA + j] = now, r.ZERO
        first, last = middle - half, middle + half
        s[r.LINE_FROM + j], s[r.LINE_TO + j] = first, last
        most = last if last > first else first
        least = first if last > first else last
        up = c[r.SPREAD + j] * (x[r.WET + j] - middle)
        down = -up if up < r.ZERO else r.ZERO
        up = up if up > r.ZERO else r.ZERO
        s[r.UP_K + j], s[r.DOWN_K + j] = up, down
        hot |= 1 if most + up > c[r.HOT_REACH + j] else 0
        cold |= 1 if least - down < c[r.COLD_REACH + j] else 0
        bag_rate = c[r.BAG_RATE + j]
        wide = half * bag_rate
        wide *= wide * r.LN2_SQUARED_SIXTH
        s[r.BAG + j] += part_h * _exp2_within(bag_rate * (middle - c[r.BAG_AT + j])) * (r.ONE + wide)
    if hot:
        _count_side(
            s, c, part_h, r.ONE, r.UP_K, r.SAFE_HIGH, r.HOT_FROM, r.HOT_AT, r.HOT_RATE, r.HOT_GATE, r.OVER, r.HEAT_DOSE
        )
    if cold:
        _count_side(
            s, c, part_h, -r.ONE, r.DOWN_K, r.SAFE_LOW, r.COLD_FROM, r.COLD_AT, r.COLD_RATE, r.COLD_GATE, r.UNDER,
            r.COLD_DOSE,
        )  # fmt: skip


@compiled
def _count_side(
    s: Floats, c: Floats, part_h: Any, sign: Any, further: Any, safe: Any, gate_at: Any, at_1h: Any, rate_at: Any,
    gate: Any, hours: Any, dose: Any,
) -> None:  # fmt: skip
    """Count hours and dose on the warm side (sign 1) or the cold side (sign -1)."""
    for lane in range(LANES):
        j = U(lane)
        first, last = s[r.LINE_FROM + j], s[r.LINE_TO + j]
        change = last - first
        span = change if change > r.ZERO else -change
        most = r.HALF * (sign * (first + last) + span) + s[further + j]
        per_K = r.ONE / (span if span > r.LEAST_SPAN_K else r.LEAST_SPAN_K)
        # share of the part beyond the band, and beyond the gate
        beyond = (most - sign * c[safe + j]) * per_K
        beyond = beyond if beyond > r.ZERO else r.ZERO
        s[hours + j] += part_h * (beyond if beyond < r.ONE else r.ONE)
        share = (most - sign * c[gate_at + j]) * per_K
        share = share if share > r.ZERO else r.ZERO
        share = share if share < r.ONE else r.ONE
        # exponents at either end; what lies before the gate is taken at the gate
        rate, least = c[rate_at + j], c[gate + j]
        a = rate * most + c[at_1h + j]
        b = a - rate * span
        a = a if a > least else least
        b = b if b > least else least
        wide = a - b
        wide *= wide * r.LN2_HALF_SQUARED
        s[dose + j] += (
            (share * part_h)
            * _exp2(r.HALF * (a + b))
            * (r.ONE + wide * r.SIXTH * (r.ONE + wide * r.TWENTIETH * (r.ONE + wide * r.FORTY_SECOND)))
        )


@compiled
def count_heat(s: Floats, came: Floats) -> None:
    """Put the heat of the last pieces to the sums, which are kept in double precision so that energy closes."""
    for lane in range(LANES):
        j = U(lane)
        came[r.CAME_WALL + j] += s[r.WALL_J + j]
        came[r.CAME_PACK + j] += s[r.GIVEN_J + j]
        s[r.WALL_J + j] = r.ZERO
        s[r.GIVEN_J + j] = r.ZERO
