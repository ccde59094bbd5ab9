//! What help says beside the options: files and columns, examples, what comes out, exit codes.

use crate::carry::notation::HELP;

pub(super) const ABOUT: &str =
    "Finds which standard lengths of board, batten and trim to buy, and how to cut them.";

pub(super) const FILES: &str = "\
FILES
  Tables saved as CSV (UTF-8) by any spreadsheet program. The first line holds
  the column names, in any order and any case. Columns are parted by comma,
  semicolon or tab; with semicolons the decimal mark is a comma. \"-\" reads
  standard input.

  PIECES   length      required: the length to cut, above 0
           material    may be left out where there is only one
           mark        the name to chalk on the piece, such as F1
           qty         how many; 1 where empty. Or as many as a width takes:
                       boards 3100/140, with gaps 3100/135+5; members
                       3100@600, or spread 3100@600 even. Doors and windows
                       are not deducted
           to          of a raked set: length at its other end. With a width
                       in qty, length and to are the heights at the two ends
                       of the wall
           step        lengths of a raked set are rounded up to this; 1mm
                       where empty
           end_gap     left open at the ends, taken off length: 5 for both, or
                       0/10
           ends        angles of the ends in degrees: 45 for both, or 45/90;
                       90 is square. length is to the long points
           spare       extra copies of the longest, cut only if one is spoiled
           joints      the piece is a run and may be joined: anywhere, every
                       600, every 600 from 50, or at 600 1200 1850, from its
                       left end
           joint_gap   left open at each joint; nothing where empty
           joints_max  any number of joints up to this; as few as it takes
                       where empty
           shortest    the shortest part; as the stock says where empty, else
                       50mm
           course_group, course   runs that lie above each other: the name of
                       the group, and which course, counted from 1
           course_rule at most so many joints on a support in so many courses
                       that follow each other; 1/2 where empty
           stage       which stage of the work, from 1 (also where empty):
                       what is fixed first is cut first
           wall        the wall it is fixed to, for the fixing list. Where
                       bars are of several batches, pieces of one wall come
                       from one of them
           batch       the batch that it comes from, with all pieces of its
                       wall; unnamed for bars whose row names none
           leave_long  left on the piece at its far end when it is cut, to be
                       trimmed in place; not on runs
           note        free text
  STOCK    length      required: the length of the bar as it is sold
           material    as above
           price       on all rows of a material or on none; without prices
                       the least length is bought. Lower prices from larger
                       counts behind it: 5.90; 5.40 from 20 (all of them at
                       5.40 then)
           sold        what the price is for: each (also where empty), per m,
                       or pack of 8
           available   how many of that can be had; empty: as many as wanted
           delivery    charged once for all that is bought of the file; alike
                       on all rows that state it. quotes counts it, plan does
                       not and says so
           batch       the batch that the bars are of; those of a material
                       that name none are taken to be of one together
           kerf        width of the blade; the same on all rows of a material
           square_off  to be taken off the ends: 10 for both, 0/10 for
                       near/far
           save_from   offcuts of this material are saved from this length up
           expansion   how it grows with heat, in millionths per kelvin, as 60
                       (see --temperature-range)
           shortest    the shortest part of runs whose row says nothing
           note        free text
  IN-HAND  length      required: bars and offcuts already there, never bought
           material    as above
           available   how many; 1 where empty
           square_off  as above; nothing where empty
           worth       money that cutting into one counts as; nothing where
                       empty
           batch       as above
           note        free text
  JOB.json holds all of these in one JSON document: lists pieces, stock and
  in_hand of objects with the columns as fields, and settings named as the
  flags. Lengths and prices are texts, a bare length counts millimetres,
  counts are numbers. check --json prints it from tables; the job inside a
  plan.json is read too. lengthwise schema job describes it. A field that is
  not known is a fault.

LENGTHS
  2210, 2210mm, 221cm, 2.21m, 87 1/4\", 7' 3 1/4\" or 7ft 3-1/4in. A bare number
  takes the unit of --unit. Lengths are exact, and printed back in the unit
  that was read.

WHAT COMES OUT
  For each material: what to buy, how to set the saw stop, every kind of bar
  to scale, where the joints of runs fall, where the length goes, and one
  sentence on how good the plan is. The same input gives the same plan, unless
  --limit stops the search by the clock.
  --out DIR writes for people cutting-sheet.html, fixing-list.html and plan.svg;
  for programs buying-list.csv, cutting-plan.csv, figures.csv, offcuts.csv (all
  that is left, to be read with --in-hand next time) and plan.json (for carry-on
  and verify).

EXIT CODES
  0  planned (check: nothing at fault)
  1  some material has no possible plan: the reason is printed, the others are
     planned
  2  something in the files or on the command line is wrong: every fault is
     listed
  3  stopped before any plan was found, or the output could not be written
  Ctrl-C stops the search: the best plan so far is printed and written, and
  says so. A second one stops at once (code 130); files in --out are then
  whole, new or old.

CAUTIONS
  Saws maim. Keep guards on and hands 300 mm (a foot) clear of the blade;
  clamp short pieces or cut them from a longer bar. Measure the opening before
  you cut. Makers' instructions, local codes and licensed trades go first.
  Nothing here judges strength or fire.";

pub(super) const PLAN: &str = "\
EXAMPLES
  lengthwise plan pieces.csv --stock stock.csv
  lengthwise plan pieces.csv --stock stock.csv --in-hand offcuts.csv --out plan

pieces.csv and stock.csv have a line of column names, and then a row for each
kind of piece, and of bar. For instance:
  material,mark,length,qty          material,length,price
  batten,west wall,2210,7           batten,3000,5.90

lengthwise --help tells of files, columns, units, exit codes and cautions.";

pub(super) const MORE: &str =
    "lengthwise --help tells of files, columns, units, exit codes and cautions.";

pub(super) const ASK: &str = "\
EXAMPLES
  lengthwise ask \"6 x 3.1m\" --from 3m --kerf 3mm --joints anywhere
  lengthwise ask \"7 x 2210 + 4 x 1200\" --from 3m=5.90 --from 4.8m=9.20
  lengthwise ask \"12 x 7' 3 1/4\\\"\" --from 8ft --kerf 1/8in

Lengths are written as in files. Prices stand on all bars or on none; without
them the least length is bought. The exit codes are those of lengthwise plan;
for how to cut bar by bar, and for all cautions, use that with files.";

pub(super) const QUOTES: &str = "\
EXAMPLE
  lengthwise quotes pieces.csv --quote hill.csv --quote quay.csv

A quote is a file of stock with prices: a merchant, a material, a standard
length. Its column delivery, in one row or alike in several, is charged once
if anything is bought of it; without one, nothing is. A quote need not offer
every material. Everything is planned with each quote, from what is in hand
too where that pays. Then each material is bought of one quote, or comes from
hand alone, so that all of it with the deliveries costs the least; every set
of quotes is gone through, so there may be 15 at most.

EXIT CODES
  0  there is a way to get everything
  1  some material has no possible plan with any quote
  2  something in the files or on the command line is wrong
  3  stopped before any plan was found for some material

lengthwise --help tells of files, columns, units and cautions.";

pub(super) const CARRY_ON: &str = "\
MEASURED ANEW
  MEASURED.csv has the columns of PIECES, of which mark is required: of a
  piece, or of a row for all its pieces. length, end_gap and leave_long may be
  new; where they are empty they stay as they were, and other columns must say
  what the plan says.

WHAT COMES OUT
  Bars that the plan bought are paid for and in hand. A spare that is cut
  serves for a spoiled piece, one that is not gives it its place: cut A1
  leaves the spares of A1; name those that were cut with begun A1. Bars stay
  as they were planned; what has no
  place is cut from offcuts, from what was found, then from bars to buy,
  unless planning all of it anew costs less. Bars and pieces keep their names:
  what is left of A3 is A3r, the stretches of C3 are C3a and C3b. Bars that
  change are shown in full. --out DIR writes the files of lengthwise plan; go
  on again from its plan.json.

EXAMPLES
  lengthwise carry-on plan.json --done notes.txt --out rest
  lengthwise carry-on plan.json --note \"cut A1-A7\" --note \"spoiled F3\"
  lengthwise carry-on plan.json --done notes.txt --pieces measured.csv --json

The exit codes are those of lengthwise plan. Saws maim: its cautions hold here
too.";

pub(super) const VERIFY: &str = "\
WHAT IS RECOMPUTED
  From the job in the file: that every piece is cut once, that every bar
  balances, what is bought and what it costs, where the length goes, and every
  sentence and figure that follows. That no plan is cheaper: from the
  whole-number prices of the certificate, by a knapsack that shares nothing
  with the search. What rests on a search that ended without a plan is said to
  be on trust; --again searches again. Then the program writes the plan anew
  and holds it against the file, field by field.

WHAT ONLY THE DIGEST TELLS
  The job itself (the plan may answer a changed one too), bounds that are on
  trust, and prices of a certificate where others prove the same. The field
  digest is a SHA-256 of everything but the free text. It tells that something
  was changed after it was written, not who wrote it: whoever changes a plan
  can write a new one.

FREE TEXT
  May be changed; nothing follows from it, and nothing checks it:
  job.pieces[].note, job.stock[].note, job.in_hand[].note and
  carried_on.done[].piece.note.

EXAMPLES
  lengthwise verify rest/plan.json
  lengthwise verify plan.json --again --limit 60

EXIT CODES
  0  the plan holds
  1  it is refused: every reason is listed
  2  the file is no plan.json, or something on the command line is wrong
  3  what was found could not be printed

A plan that holds is right about lengths and money. Nothing here judges
strength or fire, or a saw. See lengthwise --help for cautions.";

pub(super) fn carry_on_help() -> String {
    format!("{HELP}\n\n{CARRY_ON}")
}
