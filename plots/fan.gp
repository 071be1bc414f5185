# Many runs at once: the median of all, the middle half of them and nine out of ten. `picture` is the name
# of the picture; its frame and words are in <picture>_1.gp, its rows in <picture>.dat: time, and the
# shares 5, 25, 50, 75 and 95 % of the runs that lie below. Used by tl_fan_charts_draw().
set style line 31 linecolor rgb '#c3d3e2' linewidth 12 dashtype solid
set style line 32 linecolor rgb '#86a7c4' linewidth 12 dashtype solid
load sprintf('%s_1.gp', picture)
rows = sprintf('%s.dat', picture)
plot rows using 1:2:6 with filledcurves fillstyle solid noborder linecolor rgb '#c3d3e2' notitle, \
     rows using 1:3:5 with filledcurves fillstyle solid noborder linecolor rgb '#86a7c4' notitle, \
     rows @fan_median
