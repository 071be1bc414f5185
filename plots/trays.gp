# Down the tower: a narrow plot a quantity, from the water that comes in at the top to the lowest tray. Mean of
# the day, with a bar from its lowest to its highest.
set multiplot
do for [i = 1 : 6] {
    load sprintf('trays_%d.gp', i)
    plot sprintf('trays_%d.dat', i) using 2:1:3:4 with xerrorbars linestyle 4 linewidth 3 dashtype solid \
             pointtype 7 pointsize 0.001 notitle, \
         '' using 2:1 with linespoints linestyle i > 3 ? 3 : 1 dashtype solid pointtype i > 3 ? 4 : 7 \
             pointsize 0.6 notitle
}
unset multiplot
