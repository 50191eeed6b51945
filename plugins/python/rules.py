"""The rules of the Sallow Wash district, an invented district of an invented state.

A table is the message rootward.ruletable.v1.Table. The functions of this file make
its rows; hosting.py serves them.
"""

FOOT_UM = 304_800  # one foot in micrometres, exactly


def table(pb):
    """Gives the table. pb gives message classes by their full name."""
    t = pb("rootward.ruletable.v1.Table")()
    m = t.manifest
    m.rule_set_id = "sallow-wash"
    m.version = "1"
    m.title = "Rules of the Sallow Wash district"
    m.publisher = "Sallow Wash district (invented)"
    m.layer = word(m, "Layer", "LAYER_DISTRICT")
    m.scope = "us/velmora/sallow-wash"
    day(m.valid_from, 2025, 1, 1)
    buffer_row(t)
    notice_row(t)
    t.cases.extend(cases(pb))
    return t


def buffer_row(t):
    r = row(t, "buffer-spring", "No leaf is sprayed within 75 ft of a spring.", "Sallow Wash bylaw 1 (invented)")
    r.when.methods.extend([word(r, "Method", "METHOD_LOW_VOLUME_FOLIAR"), word(r, "Method", "METHOD_HIGH_VOLUME_FOLIAR")])
    r.effect.buffer.water.append(word(r, "WaterClass", "WATER_CLASS_SPRING"))
    r.effect.buffer.distance_um = 75 * FOOT_UM
    setattr(r.effect.buffer, "from", word(r, "DistanceOrigin", "DISTANCE_ORIGIN_WATER_EDGE"))


def notice_row(t):
    r = row(t, "notice-district", "The district is told of each foliar spray.", "Sallow Wash bylaw 2 (invented)")
    r.when.methods.append(word(r, "Method", "METHOD_LOW_VOLUME_FOLIAR"))
    r.effect.notice.to = "the Sallow Wash district"
    r.effect.notice.min_days = 5
    r.effect.notice.max_days = 30


def cases(pb):
    """Gives worked cases on both sides of each limit."""
    return [
        spray(pb, "spring, at the limit", 75 * FOOT_UM, "DECISION_CONDITIONAL", ["notice-district"]),
        spray(pb, "spring, just inside", 75 * FOOT_UM - 1, "DECISION_PROHIBITED", ["buffer-spring"]),
        spray(pb, "nobody measured to the spring", None, "DECISION_UNDETERMINED", ["buffer-spring"]),
        spray(pb, "cuts have neither", None, "DECISION_ALLOWED", [], method="METHOD_CUT_STUMP"),
    ]


def spray(pb, name, to_spring_um, want, by, method="METHOD_LOW_VOLUME_FOLIAR"):
    c = pb("rootward.ruletable.v1.Case")()
    c.name = name
    day(c.on, 2026, 8, 10)
    c.treatment.method = word(c, "Method", method)
    c.want = word(c, "Decision", want)
    c.by.extend(by)
    if to_spring_um is not None:
        w = c.site.water.add()
        w.water_class = word(c, "WaterClass", "WATER_CLASS_SPRING")
        w.distance_um = to_spring_um
        w.origin = word(c, "DistanceOrigin", "DISTANCE_ORIGIN_WATER_EDGE")
    return c


def row(t, rule_id, purpose, citation):
    r = t.rows.add()
    r.rule_id, r.purpose, r.citation = rule_id, purpose, citation
    day(r.valid_from, 2025, 1, 1)
    return r


def day(d, year, month, of_month):
    d.year, d.month, d.day = year, month, of_month


def word(message, enum, name):
    """Gives the number of a word of the vocabulary."""
    pool = message.DESCRIPTOR.file.pool
    return pool.FindEnumTypeByName("rootward.common.v1." + enum).values_by_name[name].number
