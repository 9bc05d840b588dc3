"""Pages of a long list, each found from where its neighbour ended: the last page costs what the first one does."""

import datetime


def read(column, text):
    """(value, primary key) of a mark; None for one that cannot be read."""
    value, _, pk = text.rpartition("~")
    try:
        if column == "started_at":
            value = datetime.datetime.fromisoformat(value)
            if value.tzinfo is None:
                return None
        elif column == "distance_km":
            value = float(value)
        pk = int(pk)
    except ValueError:
        return None
    return (value, pk) if 0 < pk < 2**63 and "\0" not in str(value) else None


def written(column, row):
    """Where a row stands in an order, as text for an address."""
    value = getattr(row, column)
    return f"{value.isoformat() if column == 'started_at' else value}~{row.pk}"


def beyond(rows, column, mark, descending):
    """Rows that come after a mark; said so that the index on the column is read from there on."""
    value, pk = mark
    if descending:
        return rows.filter(**{f"{column}__lte": value}).exclude(**{column: value, "pk__gte": pk})
    return rows.filter(**{f"{column}__gte": value}).exclude(**{column: value, "pk__lte": pk})


def page(rows, column, descending, *, after, before, size):
    """(rows of a page, mark that the page before it ends at, mark that the next one begins after).

    `after` and `before` are the marks of the neighbouring pages; a mark that cannot be read gives the first page. Which
    rows they are is asked first, for which an index is enough; whole ones are read of them only.
    """
    mark = read(column, before or after)
    backwards = bool(before and mark)
    if mark:
        rows = beyond(rows, column, mark, descending != backwards)
    sign = "-" if descending != backwards else ""
    keys = list(rows.order_by(f"{sign}{column}", f"{sign}id").values_list("pk", flat=True)[: size + 1])
    more, keys = len(keys) > size, keys[:size]
    if backwards:
        keys.reverse()
    whole = rows.in_bulk(keys)
    found = [whole[key] for key in keys if key in whole]
    if not found:
        return (), None, None
    previous = written(column, found[0]) if (more if backwards else mark) else None
    return tuple(found), previous, written(column, found[-1]) if more or backwards else None
