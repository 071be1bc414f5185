# How bad does the ammonia get? The library from R, by .C() alone.
#
# usage: Rscript worst.R SCENARIO [LIBRARY]
arguments <- commandArgs(trailingOnly = TRUE)
dyn.load(if (length(arguments) > 1) arguments[2] else "libtowerloop.so.0")

buffer <- function(size) strrep(" ", size - 1)
buffers <- function(n) rep(buffer(64), n) # TL_FLAT_TEXT
text <- paste(readLines(arguments[1], encoding = "UTF-8"), collapse = "\n")
given <- list(scenario = text, folder = ".", set = "report every=1 h", sets = 1L)
told <- list(status = 0L, fault = buffer(4000), fault_size = 4000L)

call <- function(symbol, ...) {
    answer <- do.call(".C", c(symbol, given, list(...), told))
    if (answer$status != 0) {
        message(answer$fault)
        quit(status = if (answer$status == -2) 2 else 1)
    }
    answer
}

size <- call("tl_flat_size", rows = 0L, columns = 0L, limits = 0L)
columns <- call("tl_flat_column_names", columns = size$columns, name = buffers(size$columns))$name
limits <- .C("tl_flat_limit_names", limits = size$limits, name = buffers(size$limits))$name

run <- do.call(".C", c("tl_flat_run", given,
    list(rows = size$rows, columns = size$columns, limits = size$limits,
         table = double(size$rows * size$columns), worst = double(size$limits),
         verdict = buffer(64), ready_d = 0, fish_lost_d = 0), told, NAOK = TRUE))
if (run$status != 0) {
    message(run$fault)
    quit(status = 1)
}
table <- matrix(run$table, nrow = size$rows, dimnames = list(NULL, columns))
worst <- setNames(run$worst, limits)

cat(run$verdict, "\n", sep = "")
cat(sprintf("un-ionised ammonia: %.9g mg/L as N\n", worst["un-ionised ammonia"]))
cat(sprintf("highest row: %.9g\n", max(table[, "tank_nh3_mgN_L"])))

# the chemistry by itself: the share of ammonia that is un-ionised
ph <- c(7, 8, 9)
share <- .C("tl_flat_nh3_share", n = 3L, t_degC = rep(20, 3), ph = ph, share = double(3))$share
cat(sprintf("share at pH %g: %.6f\n", ph, share), sep = "")
