"""Mutants of the pour, the advice, the log and the amounts judged to change nothing that can be
noticed, each with its reason; see ``equivalent``. A place a line."""

# ruff: noqa: E501
# fmt: off
from __future__ import annotations

NOT_NOTICED: dict[str, tuple[tuple[str, str, int, str], ...]] = {
    'a default that nothing in the program leaves to it': (
        ('swirls/stage.py', 'median_s: float = 30.0', 22, '(60.0)'),
        ('swirls/stage.py', 'median_s: float = 30.0', 22, '(0.0)'),
        ('swirls/stage.py', 'litres: float = 1.0', 20, '(2.0)'),
        ('swirls/stage.py', 'litres: float = 1.0', 20, '(0.0)'),
        ('swirls/stage.py', 'spread: float = 0.3', 20, '(0.0)'),
    ),
    'both are always as long': (
        ('swirls/stages.py', 'for i, pot in zip(places, own, strict=True):', 50, '(False)'),
        ('outlook/finishing.py', 'room = {i: q.p50 for i, q in zip(limits, latest, strict=True)}', 60, '(False)'),
        ('outlook/finishing.py', 'of = dict(zip(each, _quantiles(list(each.values())), strict=True))', 64, '(False)'),
        ('outlook/chartlines.py', 'ends = [(_until(t, chart, width), c) for t, c in zip(until, signs, strict=True)]', 82, '(False)'),
        ('outlook/chartlines.py', 'for i, (row, name) in enumerate(zip(chart.rows, names, strict=True)):', 66, '(False)'),
        ('outlook/looks.py', 'believed[name] = Belief(tuple(zip(*ends, strict=True)), passed)', 56, '(False)'),
    ),
    'no shade of 256 lies just there': (
        ('swirls/stages.py', 'linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]', 27, '(c < 0.04045)'),
    ),
    'it is asked of the one in hand, and where there is none nothing is ahead': (
        ('swirls/moves.py', 'scented = scented or any(stage.fragrance_into for stage in ahead[:1])', 25, '(all((stage.fragrance_into for stage in ahead[:1])))'),
        ('outlook/chart.py', 'at = state.stage_begun if state and state.stage else (now or 0.0)', 30, '(state)'),
    ),
    'there is one pair at the most': (
        ('swirls/moves.py', 'moves += [f"{TOGETHER}/{one}/{other}" for one, other in _pairs(ahead)[:1]]', 75, '(2)'),
    ),
    'it is asked only of moves that say it': (
        ('swirls/pouring.py', 'window, drawn = move.mould or Window(), move.mould_drawn', 20, '(move.mould)'),
    ),
    'what is cut to the chart has a place on it': (
        ('outlook/chartlines.py', 'first = place(max(act.begins, chart.begins), chart, width) or 0', 12, '(place(max(act.begins, chart.begins), chart, width))'),
        ('outlook/chartlines.py', 'last = place(min(act.ends, chart.ends), chart, width) or 0', 11, '(place(min(act.ends, chart.ends), chart, width))'),
    ),
    'the column of now is a mark of its own': (
        ('outlook/chartlines.py', 'cuts |= {now} if now is not None else set()', 12, '(set())'),
        ('outlook/chartlines.py', 'ink = "muted" if now is not None and x < now else INKS.get(sign, "")', 45, '(x <= now)'),
    ),
    'a moment that is none has no place': (
        ('outlook/chartlines.py', 'looked = [(row.last_look, LOOKED)] if row.last_look is not None else []', 13, '([(row.last_look, LOOKED)])'),
    ),
    'the number is the same from either side of the bound': (
        ('outlook/chartlines.py', 'return 0 if columns <= 0 else width if columns >= width else math.ceil(columns)', 16, '(columns < 0)'),
        ('outlook/chartlines.py', 'return 0 if columns <= 0 else width if columns >= width else math.ceil(columns)', 43, '(columns > width)'),
        ('outlook/chart.py', 'if now is not None and ended is None and ends > LONG_S and now > BACK_S:', 63, '(now >= BACK_S)'),
    ),
    'minutes before the chart are not shown': (
        ('outlook/chartlines.py', 'minute = math.ceil(chart.begins / 60 / step) * step', 38, '(61)'),
    ),
    'what is certain is not the tightest, however certain': (
        ('outlook/finishing.py', 'return 1.0 if stage.stage.can_be_left_out else stage.chance + stage.chance_in_part', 11, '(2.0)'),
    ),
    'a thousandth of a second of handwork': (
        ('outlook/hands.py', 'LEAST_SPENT_S = 1e-3', 16, '(0.002)'),
        ('outlook/hands.py', 'LEAST_SPENT_S = 1e-3', 16, '(0.0)'),
        ('outlook/hands.py', 'if spent <= LEAST_SPENT_S:', 7, '(spent < LEAST_SPENT_S)'),
    ),
    'a guard against dividing by 0 may be as small as it likes': (
        ('outlook/batters.py', 'passed += np.clip((t - before) / np.maximum(reached - before, 1e-9), 0.0, 1.0)', 70, '(2e-09)'),
    ),
    'a burst of no seconds blends nothing': (
        ('outlook/running.py', 'elif stage.blend_s > 0 and not keyed:', 9, '(stage.blend_s >= 0)'),
    ),
    'worked out once more it is the same': (
        ('outlook/running.py', 'if drawn and any(need.drawn for need in stage.needs):', 11, '(drawn or any((need.drawn for need in stage.needs)))'),
        ('outlook/running.py', 'if drawn and any(need.drawn for need in stage.needs):', 11, '(drawn)'),
    ),
    'two moments drawn from what has no steps are never the same': (
        ('outlook/looks.py', 'passed = share(times[:, pot.trace + 1] <= now) if pot.trace < Trace.SET_UP else 0.0', 23, '(times[:, pot.trace + 1] < now)'),
        ('outlook/running.py', 'ran.planned = ran.planned & (end < latest)', 37, '(end <= latest)'),
        ('outlook/running.py', 'in_time = end < in_part', 14, '(end <= in_part)'),
        ('outlook/running.py', 'in_time = end < batters.limits(stage, drawn=False)[1]', 22, '(end <= batters.limits(stage, drawn=False)[1])'),
        ('outlook/finishing.py', 'chance_in_part=share(stage.end < stage.in_part) - right,', 33, '(stage.end <= stage.in_part)'),
    ),
    'a file read in blocks of another size is the same file': (
        ('logfile/batchlog.py', 'while block := os.read(fd, 1 << 20):', 35, '(2)'),
        ('logfile/batchlog.py', 'while block := os.read(fd, 1 << 20):', 40, '(0)'),
        ('logfile/door.py', '_BLOCK = 1 << 20', 9, '(2)'),
        ('logfile/door.py', '_BLOCK = 1 << 20', 14, '(21)'),
        ('logfile/door.py', '_BLOCK = 1 << 20', 14, '(0)'),
    ),
    'the byte locked on Windows only has to lie far behind': (
        ('logfile/hold.py', '_FAR = 1 << 30  # Windows bars reading the locked byte: lock one far behind the words', 7, '(2)'),
    ),
    'an error there is passed over anyhow': (
        ('logfile/durable.py', 'path.unlink(missing_ok=True)', 31, '(False)'),
    ),
    'a path that is no link leads to itself': (
        ('logfile/durable.py', 'if over and path.is_symlink():', 11, '(over)'),
    ),
    'oils and lye have a temperature of their own both or neither': (
        ('advice/levers.py', 'apart = given.oils is not None and given.lye is not None', 12, '(given.oils is not None or given.lye is not None)'),
        ('advice/levers.py', 'apart = given.oils is not None and given.lye is not None', 12, '(given.oils is not None)'),
        ('advice/levers.py', 'if given.oils is None or given.lye is None:', 7, '(given.oils is None and given.lye is None)'),
        ('advice/levers.py', 'if given.oils is None or given.lye is None:', 7, '(given.oils is None)'),
        ('advice/levers.py', 'warm = max(given.oils or 0.0, given.lye or 0.0) if apart else given.batter', 15, '(given.oils)'),
        ('advice/levers.py', 'warm = max(given.oils or 0.0, given.lye or 0.0) if apart else given.batter', 34, '(given.lye)'),
        ('advice/levers.py', 'return given.batter if given.oils is None else max(given.oils, given.lye or 0.0)', 67, '(given.lye)'),
    ),
    'it is asked only of stages that put their pots somewhere': (
        ('advice/switching.py', 'pots[name] = replace(pots[name], where=stage.puts or "pot")', 51, '(stage.puts)'),
    ),
    'a line without so many dots has no key with so many': (
        ('logfile/tomlfile.py', 'if line.count(".") > DEEPEST_KEY and line.partition("=")[0].count(".") > DEEPEST_KEY:', 11, "(line.count('.') >= DEEPEST_KEY)"),
    ),
    'a record does not begin with its checksum': (
        ('logfile/records.py', 'while (at := data.find(b"\\n" + _SUM, at, stop)) >= 0:', 10, "((at := data.find(b'\\n' + _SUM, at, stop)) > 0)"),
    ),
    'what cost it leaves less than is left before it': (
        ('advice/switching.py', 'if worth_high is None or worth_high >= worth_low:', 11, '(worth_high is None)'),
        ('advice/switching.py', 'if worth_high is None or worth_high >= worth_low:', 33, '(worth_high > worth_low)'),
    ),
    'one pot has one order': (
        ('advice/levers.py', 'if len(plan.fragrance) != 1 or not plan.accents:', 7, '(len(plan.fragrance) != 1)'),
    ),
    'a set of which one cannot be made is none either way': (
        ('advice/changes.py', 'if size > 1 and any(change not in alone for change in changes):', 28, '(all((change not in alone for change in changes)))'),
        ('advice/changes.py', 'if size > 1 and any(change not in alone for change in changes):', 22, '(2)'),
    ),
    'no factor is no reason, be it 1 or 0': (
        ('advice/reasons.py', 'fastest = max((q.p50 for q in acceleration.values()), default=1.0)', 66, '(0.0)'),
    ),
    'a wish is run first, or among what is as good': (
        ('advice/advise.py', 'become = {way: becomes(way[0], plan, state, table, way[1]) for way in others}', 59, '(0)'),
    ),
    "JSON's reader reads a plain string as well": (
        ('logfile/tomltext.py', 'if first == \'"\' and "\\\\" not in value and value.find(\'"\', 1) == len(value) - 1 > 0:', 72, '(len(value) + 1)'),
        ('logfile/tomltext.py', 'if first == \'"\' and "\\\\" not in value and value.find(\'"\', 1) == len(value) - 1 > 0:', 66, '(0)'),
        ('logfile/tomltext.py', 'if first == \'"\' and "\\\\" not in value and value.find(\'"\', 1) == len(value) - 1 > 0:', 85, '(0)'),
    ),
}
