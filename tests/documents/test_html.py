"""HTML to text: tables on lines, hidden text left out, nothing lost, bounded time."""

from __future__ import annotations

import pytest
from in_bounds import done_in_bounds

from counterfoil.documents.html import html_charset, html_rows


def lines(html: str) -> list[str]:
    """Return the lines that are not empty."""
    return [row.text for row in html_rows(html)[0] if row.text]


def cell(label: str, value: str) -> list[str]:
    """Return the line that label and value must come out as."""
    return [f"{label}\t{value}"]


@pytest.mark.parametrize(
    "html",
    [
        "<table><tr><td>Machine ID</td><td>HG-1</td></tr></table>",
        "<table><tr><th>Machine ID</th><td>HG-1</td></tr></table>",
        "<table><tr><td><b>Machine ID</b></td><td><span>HG</span><span>-1</span></td></tr></table>",
        "<table><tr><td><p>Machine ID</p></td><td><p>HG-1</p></td></tr></table>",
        "<table><tr><td><div>Machine ID</div></td><td><div><font>HG-1</font></div></td></tr></table>",
        "<table><tbody><tr><td>Machine\n   ID</td>\n<td>\n HG-1 \n</td></tr></tbody></table>",
        "<table><tr><td>Machine ID</td><td><table><tr><td>HG-1</td></tr></table></td></tr></table>",
        "<table><tr><td><table><tr><td>Machine ID</td><td>HG-1</td></tr></table></td></tr></table>",
        "<table><tr><td><table><tr><td><table><tr><td>Machine ID<td>HG-1</table></table></table>",
        "<table><tr><td>Machine ID<br></td><td><br>HG-1<br></td></tr></table>",
        "<table><tr><td>Machine ID<td>HG-1",
        "<center><table><tr><td>Machine&nbsp;ID</td><td>&#72;G&#45;1</td></tr></table></center>",
        "<table><tr><td>Machine ID</td><td><a href='https://a.example'>HG-1</a><img src='https://a.example/x'></td></tr></table>",
    ],
)
def test_label_and_value_stay_on_one_line(html: str) -> None:
    """A table row is one line with a tab between its cells, in every shape that tables in mail have."""
    assert lines(html) == cell("Machine ID", "HG-1")


def test_columns_count_empty_and_wide_cells() -> None:
    """Cells know their column: empty cells and column spans count."""
    row = html_rows("<table><tr><td>a</td><td></td><td colspan=2>b</td><td>c</td></tr></table>")[0][0]
    assert row.text == "a\t\tb\tc"
    assert row.columns == ((0, 1), (1, 1), (2, 2), (4, 1))


def test_cells_of_several_lines_are_laid_out_as_seen() -> None:
    """Cells of a few lines stand side by side line by line."""
    html = (
        "<table><tr><td>Machine ID<br>Key</td><td>HG-1<br>AB-2</td></tr><tr><td>Address<td>Mill Lane 2<br>Quay</table>"
    )
    assert lines(html) == ["Machine ID\tHG-1", "Key\tAB-2", "Address\tMill Lane 2", "\tQuay"]


def test_layout_tables_are_read_cell_after_cell() -> None:
    """Cells that hold tables of their own are parts of a page and are read one after the other."""
    inner = "<table><tr><td>Key</td><td>AB</td></tr></table>"
    assert lines(f"<table><tr><td>Menu<br>News</td><td>{inner}</td></tr></table>") == ["Menu", "News", "Key\tAB"]


def test_blocks_and_breaks() -> None:
    """Blocks and breaks end lines, inline elements do not, white space is one space."""
    html = "<p>One <i>two</i>\n three</p><div>four</div>five<br>six<ul><li>seven<li>eight</ul><h2>nine</h2>"
    assert lines(html) == ["One two three", "four", "five", "six", "seven", "eight", "nine"]


def test_paragraphs_are_parted_by_one_empty_line() -> None:
    """Paragraphs are parted by one empty line however they are nested."""
    rows = [row.text for row in html_rows("<p>a</p><div><p>b</p></div><br><p>c</p>")[0]]
    assert rows == ["a", "", "b", "", "", "c", ""]


def test_preformatted_text_keeps_its_lines() -> None:
    """Text in <pre> keeps lines and spaces."""
    assert lines("<pre>Key    AB\n  CD</pre>") == ["Key    AB", "  CD"]


@pytest.mark.parametrize(
    "html",
    [
        "<div style='display:none'>X</div>",
        "<span style='DISPLAY : none !important'>X</span>",
        "<span style='font-size:0'>X</span>",
        "<span style='color:red;font-size: 0px;'>X</span>",
        "<span style='visibility:hidden'>X</span>",
        "<p hidden>X</p>",
        "<style>.gone{display:none}</style><p class='a gone'>X</p>",
        "<table><tr><td style='display:none'>X</td></tr></table>",
        "<script>X</script><style>X</style><head><title>X</title></head>",
        "<!-- X -->",
        "<template>X</template><iframe>X</iframe>",
    ],
)
def test_hidden_text_is_left_out(html: str) -> None:
    """What a reader does not see is not read: hidden by attribute, style or class; scripts; comments."""
    assert lines(f"a{html}<p>b</p>") == ["a", "b"]


@pytest.mark.parametrize(
    "html",
    [
        "<span style='font-size:0.9em'>X</span>",
        "<span style='font-size:07px'>X</span>",
        "<style>@media print{.a{display:none}}</style><span class=a>X</span>",
        "<style>@import 'a.css'; .b{display:none}</style><span class=a>X</span>",
        "<style>.a .b{display:none}</style><span class=b>X</span>",
    ],
)
def test_visible_text_is_kept(html: str) -> None:
    """Small type, rules for print and rules for other places do not hide a text."""
    assert lines(html) == ["X"]


def test_quotes_have_a_depth() -> None:
    """Rows know how many block quotes they stand in."""
    rows = html_rows("a<blockquote>b<blockquote>c</blockquote></blockquote>d")[0]
    assert [(row.text, row.depth) for row in rows if row.text] == [("a", 0), ("b", 1), ("c", 2), ("d", 0)]


def test_pictures_shown() -> None:
    """The content ids of pictures in the text are told; addresses elsewhere are not followed."""
    assert html_rows("<img src='cid:logo@a'><img src='CID:b'><img src='https://a.example/x.png'>")[1] == {"logo@a", "b"}


def test_values_in_input_fields() -> None:
    """Values that a form shows are text."""
    assert lines("<p>Key <input value='AB'><input type=hidden value='no'></p>") == ["Key AB"]


def test_charset_in_the_head() -> None:
    """The character set that HTML names in its head is found."""
    assert html_charset(b'<head><meta charset="iso-8859-2">') == "iso-8859-2"
    assert html_charset(b'<meta http-equiv=a content="text/html; charset=koi8-r">') == "koi8-r"
    assert html_charset(b"<p>charset=no</p>") is None


HOSTILE = [
    "<div>" * 100_000 + "X",
    "<table><tr><td>" * 20_000 + "X",
    "<b>" * 100_000 + "X",
    "<blockquote>" * 2_900 + "X",
    "<" * 200_000 + "p>X",
    "<p>" * 100_000 + "X",
    "<style>" + "a{" * 50_000 + "</style>X",
    "<style>" + "@" * 50_000 + "</style>X",
    "<table><tr>" + "<td colspan=9999999999>a" * 20_000 + "</table>X",
]


def read_hostile(number: str) -> None:
    """Read one of the hostile documents; its text is there."""
    assert any("X" in line for line in lines(HOSTILE[int(number)]))


def test_hostile_html_is_read_within_the_bounds() -> None:
    """HTML made to keep a reader busy takes no more than a reading process may, and its text is still there."""
    numbers = [str(number) for number in range(len(HOSTILE))]
    assert done_in_bounds("test_html", "read_hostile", numbers) == numbers


def test_padding_does_not_swell() -> None:
    """A wide table does not come out larger than it went in: nothing is padded to the width of a column."""
    row = "<tr><td>" + "a" * 3_000 + "</td><td colspan=1000>b</td>" + "<td>c</td>" * 20 + "</tr>"
    html = "<table>" + row + "<tr><td>Key</td><td>AB</td></tr>" * 3_000 + "</table>"
    assert sum(len(row.text) + 1 for row in html_rows(html)[0]) < len(html)


@pytest.mark.parametrize(
    ("html", "text"),
    [
        ("<p>Code: <s>AB-12</s> CD-34</p>", "Code: ~AB-12~ CD-34"),
        ("<p>Code: <del>AB</del>CD-34</p>", "Code: ~AB~CD-34"),
        ('<p>Code: <span style="text-decoration: line-through">AB-12</span></p>', "Code: ~AB-12~"),
        ("<p>Code: AB-12<sup>1</sup></p>", "Code: AB-12^1"),
        ("<p>Code: AB-12 <sup>1)</sup></p>", "Code: AB-12 1)"),
        ("<p>le 1<sup>er</sup> mai</p>", "le 1er mai"),
    ],
)
def test_struck_out_and_raised_text_cannot_pass_for_part_of_a_code(html: str, text: str) -> None:
    """What was struck out is marked, and so is the number of a footnote behind a word."""
    assert lines(html) == [text]
