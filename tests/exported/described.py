"""What PARQUET.md says: the columns of every table, and the statements to run."""

import re


def chapters(document, heading):
    """Titles and texts of the chapters of one level."""
    parts = re.split(rf"^{heading} (.+)$", document, flags=re.M)
    return zip(parts[1::2], parts[2::2])


def tables(document):
    """Name of the table -> column -> (type, whether it may be null), in order."""
    found = {}
    for title, text in chapters(document, "##"):
        rows = re.findall(r"^\| (`.+`) \| (.+?) \| (yes|no) \|$", text, flags=re.M)
        columns = {}
        for names, kind, null in rows:
            for name in re.findall(r"`(\w+)`", names):
                assert name not in columns, f"{title}: {name} twice"
                columns[name] = (kind, null == "yes")
        if columns:
            found[title] = columns
    assert len(found) == 10, found.keys()
    return found


def statements(document):
    """Title of the section -> the text of its SQL block."""
    found = {}
    for title, text in chapters(document, "###"):
        blocks = re.findall(r"^```sql\n(.*?)^```$", text, flags=re.M | re.S)
        assert len(blocks) == 1, f"{title}: {len(blocks)} blocks"
        found[title] = blocks[0]
    return found
