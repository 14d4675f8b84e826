# Recomputes data sets with R's survival package, to compare with report --data.
# Input: a CSV of jobs (file, group column or "", tau or 0). Output: one figure a
# line, "job,path,value", with 17 digits; NA where a figure is not defined.
suppressPackageStartupMessages(library(survival))
jobs <- read.csv(commandArgs(TRUE)[1], colClasses = c("character", "character", "numeric"))

put <- function(job, path, value) {
  value <- as.numeric(value)
  text <- ifelse(is.na(value), "NA", sprintf("%.17g", value))
  cat(paste(job, path, text, sep = ","), sep = "\n")
}

group <- function(job, at, d, reasons, tau) {
  f <- survfit(Surv(time, closed) ~ 1, data = d, conf.type = "log-log")
  put(job, paste0(at, "n"), nrow(d))
  put(job, paste0(at, "events"), sum(d$closed))
  q <- quantile(f, 0.5)
  put(job, paste0(at, "median"), q$quantile)
  put(job, paste0(at, "median_low"), q$lower)
  put(job, paste0(at, "median_high"), q$upper)
  if (tau == 0) tau <- max(d$time)
  # R refuses a horizon before the first time, when everybody still waits.
  table <- if (tau >= min(d$time)) summary(f, rmean = tau)$table else c(rmean = tau, "se(rmean)" = 0)
  put(job, paste0(at, "rmean.tau"), tau)
  put(job, paste0(at, "rmean.value"), table["rmean"])
  put(job, paste0(at, "rmean.se"), table["se(rmean)"])
  row <- paste0(at, "curve.", seq_along(f$time) - 1, ".")
  put(job, paste0(row, "time"), f$time)
  put(job, paste0(row, "n_risk"), f$n.risk)
  put(job, paste0(row, "n_event"), f$n.event)
  put(job, paste0(row, "n_censor"), f$n.censor)
  put(job, paste0(row, "surv"), f$surv)
  put(job, paste0(row, "se"), f$surv * f$std.err)
  put(job, paste0(row, "low"), f$lower)
  put(job, paste0(row, "high"), f$upper)
  if (sum(d$closed) == 0) return(invisible())
  state <- factor(d$status, c(0, reasons))
  m <- survfit(Surv(d$time, state) ~ 1)
  at.event <- f$time[f$n.event > 0]
  pick <- match(at.event, m$time)
  for (k in seq_along(reasons)) {
    row <- paste0(at, "incidence.", k - 1, ".steps.", seq_along(at.event) - 1, ".")
    put(job, paste0(at, "incidence.", k - 1, ".reason"), reasons[k])
    put(job, paste0(row, "time"), at.event)
    put(job, paste0(row, "value"), m$pstate[pick, k + 1])
    put(job, paste0(row, "se"), m$std.err[pick, k + 1])
  }
}

for (j in seq_len(nrow(jobs))) {
  d <- read.csv(jobs$file[j], comment.char = "#", na.strings = character())
  if (is.null(d$status)) d$status <- d$event
  d$closed <- d$status > 0
  reasons <- sort(unique(d$status[d$closed]))
  by <- if (jobs$group[j] == "") rep("all", nrow(d)) else as.character(d[[jobs$group[j]]])
  names <- sort(unique(by), method = "radix")
  for (g in seq_along(names))
    group(j - 1, paste0("groups.", g - 1, "."), d[by == names[g], ], reasons, jobs$tau[j])
  if (length(names) > 1 && any(d$closed)) {
    test <- survdiff(Surv(time, closed) ~ by, data = cbind(d, by = by))
    df <- sum(test$exp > 0) - 1
    if (df == 0) next # only one group was at risk when anyone closed: no test
    put(j - 1, "log_rank.chisq", test$chisq)
    put(j - 1, "log_rank.df", df)
    put(j - 1, "log_rank.p", pchisq(test$chisq, df, lower.tail = FALSE))
  }
}
