# A fit: one panel a quantity and place, readings with their bars, the model before (dashed) and fitted
# (solid). The frame of panel i and its words are in fit_<i>.gp; fit_curve_<i>.dat has time, before and
# fitted; fit_reading_<i>.dat has time, value, the ends of the bar, the mark, and 1 where the mark is hollow,
# so that its bar does not run through it.
set style line 401 linecolor rgb '#d55e00' linewidth 1.6 dashtype (8,5)
set style line 402 linecolor rgb '#0b4f8a' linewidth 2.0 dashtype solid
set style line 403 linecolor rgb '#202020' linewidth 1.2 dashtype solid pointtype 0
mark = "linewidth 1.3 linecolor rgb '#202020' notitle"
load 'fit_panels.gp'
set multiplot
do for [i = 1 : panels] {
    load sprintf('fit_%d.gp', i)
    curve = sprintf('fit_curve_%d.dat', i)
    reading = sprintf('fit_reading_%d.dat', i)
    plot curve using 1:(fitted ? $3 : NaN) with lines linestyle 402 notitle, \
         curve using 1:2 with lines linestyle 401 notitle, \
         reading using 1:2:3:4 with yerrorbars linestyle 403 notitle, \
         reading using 1:($6 > 0 ? $2 : NaN) with points pointtype 7 pointsize 1.3 linecolor rgb 'white' notitle, \
         reading using 1:2:5 with points pointtype variable pointsize 1 @mark
}
unset multiplot
