# Times R's survfit on vectors in memory, to set beside the same curves made by Dunlin.
# Input: a CSV of time, event, group. Output: the least of seven times in milliseconds,
# of one curve and of one curve for each group, both with log-log limits.
suppressPackageStartupMessages(library(survival))
d <- read.csv(commandArgs(TRUE)[1], colClasses = c("integer", "integer", "character"))
least <- function(f) min(replicate(7, { gc(FALSE); system.time(f())[["elapsed"]] })) * 1000
s <- Surv(d$time, d$event)
g <- factor(d$group)
cat(least(function() survfit(s ~ 1, conf.type = "log-log")),
    least(function() survfit(s ~ g, conf.type = "log-log")), "\n")
