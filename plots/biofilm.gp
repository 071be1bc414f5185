# The three guilds of the film and how full the voids are, and algae where there is sun, one line a tray, the top tray darkest.
set multiplot
load 'biofilm_1.gp'
load 'biofilm_words.gp'
plot NaN notitle, for [i = trays : 1 : -1] sprintf('tray%02d_aob_gCOD_m2.dat', i) @tray_line
load 'biofilm_2.gp'
plot NaN notitle, for [i = trays : 1 : -1] sprintf('tray%02d_nob_gCOD_m2.dat', i) @tray_line
load 'biofilm_3.gp'
plot NaN notitle, for [i = trays : 1 : -1] sprintf('tray%02d_het_gCOD_m2.dat', i) @tray_line
load 'biofilm_4.gp'
plot NaN notitle, for [i = trays : 1 : -1] sprintf('tray%02d_voids_filled_pct.dat', i) @tray_line
if (algae) {
    load 'biofilm_5.gp'
    plot NaN notitle, for [i = trays : 1 : -1] sprintf('tray%02d_algae_cover_pct.dat', i) @tray_line
}
unset multiplot
