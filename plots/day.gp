# One day: what the fish give off after their meals, and what the water makes of it.
set multiplot
load 'day_1.gp'
load 'day_words.gp'
plot 'day_excreted_tan_gN_d.dat' @line_2
load 'day_2.gp'
plot 'day_tank_tan_caution_mgN_L.dat' @line_21, 'day_tank_tan_danger_mgN_L.dat' @line_22, \
     'day_tank_tan_mgN_L.dat' @line_1
load 'day_3.gp'
plot 'day_tank_nh3_mgN_L.dat' @line_1
load 'day_4.gp'
plot 'day_tank_o2_mg_L.dat' @line_1
load 'day_5.gp'
plot 'day_tank_ph.dat' @line_1
unset multiplot
