"""The box test at home, step by step: what a seller needs to do so that the fit has something to learn.

For: ``shipwindow calibrate recipe``; ``docs/calibrating.md`` says the same at length. Must not know: settings.
"""

from __future__ import annotations

RECIPE = """\
A box test at home: water bags, a cold place, a thermometer
===========================================================

You need  your everyday box, the bags you ship in, tank water (no animals), a small temperature logger or a
          thermometer with a probe, and a place that stays cold: a refrigerator, a freezer, or a porch in winter.
          A second logger for the air beside the box is worth more than anything else you can add.

 1. Fill and tie bags as for an order, pack them as always: fill, shield, tape. No animals, ever.
 2. Put the logger's probe into the water of a bag in the middle. Set it to a reading every 10 minutes.
    With a thermometer only: lead its cable out under the lid and note the time and the temperature at the
    start and then at about 1, 2, 4, 6, 8, 12 and 24 hours.
 3. Put the second logger beside the box, not on its lid. Without one, read the air at the start, the middle
    and the end, and give its mean.
 4. Shut the lid and note the time. Leave it shut: 10 hours in a freezer, 24 hours in a refrigerator or on a
    porch out of sun and wind. The water should fall by at least 8 degC (15 degF): less tells little.
 5. Read the loggers out as CSV, then

      shipwindow calibrate add-test water.csv --shop DIR --name fridge-1 --box BOX --bags LIST --air air.csv

    or, with one temperature of the air, --air "38 degF". A handwritten list is a CSV with two columns, time
    and temperature:  time,temp_F  then  2026-01-14 17:30,77.5  and so on.
 6. Do it again with another place or another day. Two tests tell how far two of your boxes differ.
 7. With a heat pack: weigh it new, run the same test with --plan and the pack in its place, weigh it again when
    you open the box (patted dry), and add --gain "6.2 g". Weigh one pack that lies in open air beside it too:
    shipwindow calibrate weigh --pack heat-40h --new "104 g" --gain "6.1 g" --open "12 h"
 8. shipwindow calibrate fit --shop DIR        what the tests tell, and what they cannot
    shipwindow calibrate use --shop DIR        from the next morning on

What each test tells
  box without a pack, cold place     how fast your box loses heat: the number that matters most
  the same box with a pack           heat of the pack, and how much air reaches it
  a second kind of box               whether your boxes are all off alike
  a logger on a real trip in summer  how hot the van gets; needs that morning's forecasts or an air logger
  nothing you can do at home         contact and fill one by one: only their sum with the wall shows

Care: warmers burn skin and need air: never against a bag, never pierced, never with leaking oxygen. A freezer test
kills whatever is in the water. Never dry ice. Your carrier's terms and local law come first.
"""
