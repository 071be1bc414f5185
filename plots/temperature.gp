# Water and air above, and below them what evaporates.
set multiplot
load 'temperature_1.gp'
load 'temperature_words.gp'
plot 'air_temperature_degC.dat' @band_2, 'temperature_degC.dat' @band_1, \
     'freezing_degC.dat' @line_4, \
     'air_temperature_degC.dat' @line_2, 'temperature_degC.dat' @line_1
load 'temperature_2.gp'
plot 'evaporation_L_d.dat' @band_3, 'evaporation_L_d.dat' @line_3
unset multiplot
