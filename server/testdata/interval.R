# Recomputes intervals with R's survival package, to compare with those Dunlin counts
# by day. Input: the paths of CSV files with time, status (0 waits or left, 1 done, 2
# and up ended otherwise) and group. Output: one figure a line, "job,path,value", with
# 17 digits; NA where a figure is not defined.
suppressPackageStartupMessages(library(survival))
days <- c(28, 35, 42, 56, 58, 60)

put <- function(job, path, value) {
  if (length(value) == 0) return(invisible())
  value <- as.numeric(value)
  cat(paste(job, path, ifelse(is.na(value), "NA", sprintf("%.17g", value)), sep = ","), sep = "\n")
}

figures <- function(job, at, d) {
  put(job, paste0(at, "n"), nrow(d))
  put(job, paste0(at, "done"), sum(d$status == 1))
  if (any(d$status > 1)) return(competing(job, at, d))
  f <- survfit(Surv(time, status == 1) ~ 1, data = d, conf.type = "log-log")
  for (p in c(0.25, 0.5, 0.75, 0.9)) {
    q <- quantile(f, p)
    put(job, paste0(at, "q", p), q$quantile)
    put(job, paste0(at, "q", p, ".low"), q$lower)
    put(job, paste0(at, "q", p, ".high"), q$upper)
  }
  s <- summary(f, times = days, extend = TRUE)
  known <- days <= max(d$time) | min(f$surv) == 0
  put(job, paste0(at, "by", days)[known], (1 - s$surv)[known])
  tau <- max(d$time)
  table <- if (tau > 0) summary(f, rmean = tau)$table else c(rmean = 0, "se(rmean)" = 0)
  put(job, paste0(at, "rmean"), table["rmean"])
  put(job, paste0(at, "rmean.se"), table["se(rmean)"])
  put(job, paste0(at, "surv", f$time), f$surv)
  put(job, paste0(at, "se", f$time), f$surv * f$std.err)
  put(job, paste0(at, "low", f$time), f$lower)
  put(job, paste0(at, "high", f$time), f$upper)
}

# competing takes the share done as one of several states.
competing <- function(job, at, d) {
  m <- survfit(Surv(d$time, factor(d$status, 0:5)) ~ 1)
  s <- summary(m, times = days, extend = TRUE)
  last <- d$status[d$time == max(d$time)]
  known <- days <= max(d$time) | all(last > 0)
  put(job, paste0(at, "by", days)[known], s$pstate[known, 2])
  tau <- max(d$time)
  if (tau > 0) put(job, paste0(at, "rmean"), tau - summary(m, rmean = tau)$table[2, "rmean"])
  put(job, paste0(at, "surv", m$time), 1 - m$pstate[, 2])
  for (k in 1:4) {
    put(job, paste0(at, "reason", k, ".", m$time), m$pstate[, k + 1])
    put(job, paste0(at, "reason", k, ".se", m$time), m$std.err[, k + 1])
  }
  # Greenwood has no error of a curve that ended at 0; the incidence has.
  open <- 1 - m$pstate[, 2] > 1e-12
  put(job, paste0(at, "se", m$time)[open], m$std.err[open, 2])
}

files <- commandArgs(TRUE)
for (j in seq_along(files)) {
  d <- read.csv(files[j], na.strings = character(), colClasses = c(group = "character"))
  figures(j - 1, "all.", d)
  names <- sort(unique(d$group), method = "radix")
  for (g in names) figures(j - 1, paste0(g, "."), d[d$group == g, ])
  if (length(names) > 1 && any(d$status == 1)) {
    test <- survdiff(Surv(time, status == 1) ~ group, data = d)
    df <- sum(test$exp > 0) - 1
    if (df > 0) {
      put(j - 1, "log_rank", test$chisq)
      put(j - 1, "log_rank.p", pchisq(test$chisq, df, lower.tail = FALSE))
    }
  }
}
