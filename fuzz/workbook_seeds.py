"""Writes small surveys as workbooks of many makers, as seeds of the target `workbook`.

    python3 fuzz/workbook_seeds.py fuzz/corpus/workbook

Makers that are not installed are left out and named. XLSB is written here by its layout ([MS-XLSB] 2.1), since no free program writes it.
"""

import datetime
import pathlib
import shutil
import struct
import subprocess
import sys
import tempfile
import zipfile

HEAD = ["mark", "wing", "kind", "wide", "high", "across", "thick", "rot", "cracked", "leaded"]
ROWS = [
    ["N1", "North", "pair", 60, "48 1/2", 2, 1.75, 0.05, 1, "yes"],
    ["N2", "North", "single", "2'-6 1/2\"", 48, 2, None, None, None, "no"],
    ["S1", "South", "hung", 30.125, "775 mm", 1, None, 0.35, 2, True],
    ["S2", "South", "hung", "n/a", 62, 1, None, "n/a", None, None],
    [],
    ["Total", None, None, None, None, None, None, None, 3, None],
]

folder = pathlib.Path(sys.argv[1])
folder.mkdir(parents=True, exist_ok=True)


def openpyxl_books():
    import openpyxl
    from openpyxl.comments import Comment
    from openpyxl.styles import Font

    for rich in (False, True):
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.title = "West"
        if rich:
            sheet.append(["Survey of the west wing"])
        sheet.append(HEAD)
        for row in ROWS:
            sheet.append(row)
        if rich:
            sheet["D3"].number_format = '0.00" in"'
            sheet["H3"].number_format = "0%"
            sheet["I8"] = "=SUM(I3:I6)"
            sheet["K3"] = datetime.date(2026, 3, 8)
            sheet["A1"].font = Font(bold=True)
            sheet["A3"].comment = Comment("seen twice", "hand")
            sheet.merge_cells("B3:B4")
            sheet.row_dimensions[5].hidden = True
            other = book.create_sheet("Old")
            other.sheet_state = "hidden"
            other.append(HEAD)
            other.append(ROWS[0])
        book.save(folder / f"openpyxl_{'rich' if rich else 'plain'}.xlsx")


def xlsxwriter_books():
    import xlsxwriter

    for strings in (False, True):
        path = folder / f"xlsxwriter_{'inline' if strings else 'shared'}.xlsx"
        book = xlsxwriter.Workbook(path, {"constant_memory": strings})
        sheet = book.add_worksheet("West")
        for at, row in enumerate([HEAD, *ROWS]):
            for column, value in enumerate(row):
                if value is not None:
                    sheet.write(at, column, value)
        book.close()


def xlwt_book():
    import xlwt

    book = xlwt.Workbook()
    sheet = book.add_sheet("West")
    for at, row in enumerate([HEAD, *ROWS]):
        for column, value in enumerate(row):
            if value is not None:
                sheet.write(at, column, value)
    sheet.write(9, 0, xlwt.Formula("SUM(I2:I4)"))
    sheet.write(10, 3, datetime.date(2026, 3, 8), xlwt.easyxf(num_format_str="yyyy-mm-dd"))
    sheet.write_merge(11, 12, 1, 1, "merged")
    book.save(folder / "xlwt.xls")


def odfpy_book():
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    document = OpenDocumentSpreadsheet()
    table = Table(name="West")
    for row in [HEAD, *ROWS]:
        line = TableRow()
        for value in row or [None]:
            if isinstance(value, bool):
                cell = TableCell(valuetype="boolean", booleanvalue=str(value).lower())
            elif isinstance(value, (int, float)):
                cell = TableCell(valuetype="float", value=value)
            elif value is None:
                cell = TableCell()
            else:
                cell = TableCell(valuetype="string")
                cell.addElement(P(text=value))
            line.addElement(cell)
        table.addElement(line)
    document.spreadsheet.addElement(table)
    document.save(folder / "odfpy.ods")


def ezodf_book():
    import ezodf

    book = ezodf.newdoc("ods", str(folder / "ezodf.ods"))
    sheet = ezodf.Sheet("West", size=(len(ROWS) + 1, len(HEAD)))
    for at, row in enumerate([HEAD, *ROWS]):
        for column, value in enumerate(row):
            if value is not None:
                sheet[at, column].set_value(value)
    book.sheets += sheet
    book.save()


def libreoffice_books():
    program = shutil.which("soffice")
    if not program:
        raise ImportError("soffice")
    sources = [folder / "openpyxl_rich.xlsx", folder / "openpyxl_plain.xlsx", folder / "xlwt.xls"]
    kinds = {"xlsx": "xlsx:Calc MS Excel 2007 XML", "xlsm": "xlsm:Calc MS Excel 2007 VBA XML", "xls": "xls:MS Excel 97", "ods": "ods:calc8"}
    for source in sources:
        for kind, convert in kinds.items():
            with tempfile.TemporaryDirectory() as place:
                command = [program, "--headless", "--convert-to", convert, "--outdir", place, str(source)]
                subprocess.run(command, check=True, capture_output=True)
                for made in pathlib.Path(place).iterdir():
                    shutil.copy(made, folder / f"libreoffice_{source.stem}_{source.suffix[1:]}.{kind}")


def record(kind, data=b""):
    head = bytes([kind]) if kind < 0x80 else bytes([kind & 0x7F | 0x80, kind >> 7])
    length, size = b"", len(data)
    while True:
        more = size >> 7
        length += bytes([size & 0x7F | (0x80 if more else 0)])
        size = more
        if not size:
            return head + length + data


def wide(text):
    return struct.pack("<I", len(text)) + text.encode("utf-16-le")


def xlsb_book():
    texts, cells = [], b""
    for at, row in enumerate([HEAD, *ROWS]):
        cells += record(0x00, struct.pack("<I", at) + bytes(13))
        for column, value in enumerate(row):
            head = struct.pack("<II", column, 0)
            if isinstance(value, bool):
                cells += record(0x04, head + bytes([value]))
            elif isinstance(value, float):
                cells += record(0x05, head + struct.pack("<d", value))
            elif isinstance(value, int):
                cells += record(0x02, head + struct.pack("<I", value << 2 | 2))
            elif isinstance(value, str):
                texts.append(value)
                cells += record(0x07, head + struct.pack("<I", len(texts) - 1))
    cells += record(0x09, struct.pack("<II", 8, 0) + struct.pack("<d", 3) + bytes(2) + struct.pack("<I", 3) + b"\x1e\x03\x00" + bytes(4))
    sheet = record(0x81) + record(0x94, struct.pack("<IIII", 0, len(ROWS), 0, 9)) + record(0x91) + cells + record(0x92) + record(0x82)
    book = record(0x83) + record(0x8F) + record(0x9C, struct.pack("<II", 0, 1) + wide("rId1") + wide("West")) + record(0x90) + record(0x84)
    sst = record(0x9F, struct.pack("<II", len(texts), len(texts))) + b"".join(record(0x13, b"\0" + wide(t)) for t in texts) + record(0xA0)
    styles = record(0x269, struct.pack("<I", 1)) + record(0x2F, bytes(16)) + record(0x26A)
    types = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006/relationships"
    rel = lambda number, kind, target: f'<Relationship Id="rId{number}" Type="{types}/{kind}" Target="{target}"/>'
    rels = lambda inside: f'<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="{package}">{inside}</Relationships>'
    with zipfile.ZipFile(folder / "written.xlsb", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("_rels/.rels", rels(rel(1, "officeDocument", "xl/workbook.bin")))
        archive.writestr("xl/_rels/workbook.bin.rels", rels(rel(1, "worksheet", "worksheets/sheet1.bin")))
        for name, content in [("workbook", book), ("worksheets/sheet1", sheet), ("sharedStrings", sst), ("styles", styles)]:
            archive.writestr(f"xl/{name}.bin", content)


for maker in (openpyxl_books, xlsxwriter_books, xlwt_book, odfpy_book, ezodf_book, libreoffice_books, xlsb_book):
    try:
        maker()
    except ImportError as missing:
        print(f"left out: {maker.__name__} ({missing})")
for seed in folder.iterdir():
    if seed.stat().st_size > 16_384:
        print(f"over 16 kB and so left out: {seed.name}, {seed.stat().st_size} bytes")
        seed.unlink()
