# A page of small pictures: a row a variant, a column a quantity.
set multiplot
load 'compare_multiples_1_1.gp'
rows = variants
do for [i = 1 : rows] {
    do for [q = 1 : panels] {
        load sprintf('compare_multiples_%d_%d.gp', i, q)
        plot sprintf('small_%d_%d.dat', i, q) using 1:2 with lines linestyle 1 notitle
    }
}
unset multiplot
