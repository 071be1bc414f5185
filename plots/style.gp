# Common look of all charts, loaded before each of them. Hues differ in brightness and every line
# has its own dashes, so that the charts read in grey and for colour-blind eyes. No hue stands for
# a value: these are not the colours of a test kit.
reset

# sizes in px
title_font = 'sans-serif Bold,24'
subject_font = 'sans-serif,20'
heading_font = 'sans-serif,17'
small_font = 'sans-serif,15'
danger_shade = '#f3e4de'
event_shade = '#9a9a9a'
ice_shade = '#dce9f7'
ring = "pointtype 6 pointsize 1.1 linewidth 1.4 linecolor rgb 'black'"

# dashes of many curves: short enough that a stretch of 30 px shows each
set dashtype 11 solid
set dashtype 12 (13,6)
set dashtype 13 (4,5)
set dashtype 14 (13,5,3,5)
set dashtype 15 (13,5,3,5,3,5)

# curves
set style line 1 linecolor rgb '#0b4f8a' linewidth 2.2 dashtype solid
set style line 2 linecolor rgb '#d55e00' linewidth 2.2 dashtype (14,6)
set style line 3 linecolor rgb '#5b2a86' linewidth 2.2 dashtype (20,6,5,6)
set style line 4 linecolor rgb '#555555' linewidth 1.8 dashtype (4,5)
# limits, events, the end of a start-up
set style line 21 linecolor rgb '#8a5a00' linewidth 1.5 dashtype (12,8)
set style line 22 linecolor rgb '#8b1a1a' linewidth 1.5 dashtype solid
set style line 23 linecolor rgb '#606060' linewidth 0.9 dashtype (3,3)
set style line 24 linecolor rgb '#3d6b2a' linewidth 1.5 dashtype (12,4,3,4)
# trays, from the top one (dark) to the bottom one (light); the named ones are thicker, with dashes
do for [i = 1 : trays] {
    depth = trays > 1 ? (i - 1.0) / (trays - 1) : 0
    named = i == 1 || i == trays || i == (trays + 1) / 2
    if (i == trays && i > 1) {
        set style line 100 + i dashtype (4,5)
    } else {
        if (named && i > 1) { set style line 100 + i dashtype (14,6) } else { set style line 100 + i dashtype solid }
    }
    set style line 100 + i linewidth named ? 2.4 : 0.9 \
        linecolor rgb int(20 + 150 * depth) * 65536 + int(40 + 130 * depth) * 256 \
                      + int(90 + 100 * depth)
}

# how a column's file is drawn: the range within a day if there is one, and the line
spread = banded ? "using 1:3:4 with filledcurves fillstyle transparent solid 0.35 noborder notitle" \
                : "using 1:(NaN) with lines notitle"
band_1 = "@spread linecolor rgb '#0b4f8a'"
band_2 = "@spread linecolor rgb '#d55e00'"
band_3 = "@spread linecolor rgb '#5b2a86'"
line_1 = "using 1:2 with lines linestyle 1 notitle"
line_2 = "using 1:2 with lines linestyle 2 notitle"
line_3 = "using 1:2 with lines linestyle 3 notitle"
line_4 = "using 1:2 with lines linestyle 4 notitle"
fan_median = "using 1:4 with lines linestyle 1 notitle"
# limits that change with time: the strictest of the day
line_21 = "using 1:3 with lines linestyle 21 notitle"
line_22 = "using 1:3 with lines linestyle 22 notitle"

tray_line = "using 1:2 with lines linestyle 100 + i notitle"

set border 3 linecolor rgb '#404040'
set tics nomirror out scale 0.6 font small_font format '%h'
set grid xtics ytics back linecolor rgb '#dcdcdc' linewidth 0.8 dashtype solid
unset key
