# What drives the risk: bars of inputs, in one plot whose scale upwards is pixels. Frame and words are in
# <picture>_1.gp; drivers.dat has value, height, both ends of the bar, its lower and upper edge and its kind:
# 1 paler, behind; 2 to the right; 3 to the left. Used by tl_driver_chart_draw().
load sprintf('%s_1.gp', picture)
unset ytics
set border 1
bar = "fillstyle solid noborder linecolor rgb"
plot 'drivers.dat' using ($7 == 1 ? $1 : NaN):2:3:4:5:6 with boxxyerror @bar '#c3d3e2' notitle, \
     '' using ($7 == 2 ? $1 : NaN):2:3:4:5:6 with boxxyerror @bar right_bar notitle, \
     '' using ($7 == 3 ? $1 : NaN):2:3:4:5:6 with boxxyerror @bar left_bar notitle
