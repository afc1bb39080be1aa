# SPDX-License-Identifier: GPL-3.0-or-later
#
# What R makes of its own data sets: one line a result, a name, a tab, numbers. test_shots_stats.py reads
# it. Data go along, so that the same numbers are asked of our program.

say <- function(name, ...) cat(name, "\t", paste(sprintf("%.17g", c(...)), collapse = " "), "\n", sep = "")

one <- function(name, x) {
    say(paste("one", name, "data"), x)
    say(paste("one", name, "place"), mean(x), median(x), quantile(x, c(.25, .75), names = FALSE),
        mad(x, constant = 1 / qnorm(.75)), sd(x), sd(x) / sqrt(length(x)))
    say(paste("one", name, "mean_t"), t.test(x)$conf.int)
}

# Brown and Forsythe by its definition: the analysis of variance of distances from the medians.
spreads <- function(y, g) {
    a <- anova(lm(abs(y - ave(y, g, FUN = median)) ~ factor(g)))
    c(a$F[1], a$Df, a$`Pr(>F)`[1])
}

two <- function(name, x, y) {
    t <- t.test(x, y)
    say(paste("two", name, "a"), x)
    say(paste("two", name, "b"), y)
    say(paste("two", name, "means"), mean(x) - mean(y), t$stderr, t$statistic, t$parameter, t$p.value,
        t$conf.int)
    say(paste("two", name, "spreads"), sd(x) / sd(y), spreads(c(x, y), rep(1:2, c(length(x), length(y)))))
}

many <- function(name, y, g) {
    g <- as.integer(factor(g))
    w <- oneway.test(y ~ g)
    say(paste("many", name, "data"), y)
    say(paste("many", name, "group"), g - 1)
    say(paste("many", name, "means"), w$statistic, w$parameter, w$p.value)
    say(paste("many", name, "spreads"), spreads(y, g))
    p <- combn(max(g), 2, function(k) t.test(y[g == k[1]], y[g == k[2]])$p.value)
    say(paste("many", name, "p"), p)
    say(paste("many", name, "holm"), p.adjust(p, "holm"))
}

hc3 <- function(fit) {
    x <- model.matrix(fit)
    a <- solve(crossprod(x))
    a %*% crossprod(x * (residuals(fit) / (1 - hatvalues(fit)))) %*% a
}

wald <- function(fit, v, contrasts) {
    d <- contrasts %*% coef(fit)
    q <- nrow(contrasts)
    f <- drop(t(d) %*% solve(contrasts %*% v %*% t(contrasts), d)) / q
    c(f, q, fit$df.residual, pf(f, q, fit$df.residual, lower.tail = FALSE))
}

# Coefficients first, first + step, ... less the first of them.
differences <- function(size, at) t(sapply(at[-1], function(k) replace(replace(numeric(size), k, 1), at[1], -1)))

adjusted <- function(name, y, g, covariates) {
    g <- factor(as.integer(factor(g)))
    k <- nlevels(g)
    x <- scale(as.matrix(covariates), scale = FALSE)
    m <- ncol(x)
    fit <- lm(y ~ 0 + g + x)
    v <- hc3(fit)
    say(paste("adjusted", name, "data"), y)
    say(paste("adjusted", name, "group"), as.integer(g) - 1)
    for (j in 1:m) say(paste("adjusted", name, "covariate", j - 1), covariates[[j]])
    say(paste("adjusted", name, "coefficients"), coef(fit))
    say(paste("adjusted", name, "errors"), sqrt(diag(v)))
    say(paste("adjusted", name, "sd"), summary(fit)$sigma)
    bare <- lm(y ~ 0 + g)
    say(paste("adjusted", name, "share"), 1 - deviance(fit) / deviance(bare))
    pairs <- combn(k, 2)
    d <- apply(pairs, 2, function(p) coef(fit)[p[1]] - coef(fit)[p[2]])
    e <- apply(pairs, 2, function(p) sqrt(v[p[1], p[1]] + v[p[2], p[2]] - 2 * v[p[1], p[2]]))
    say(paste("adjusted", name, "differences"), d)
    say(paste("adjusted", name, "difference_errors"), e)
    say(paste("adjusted", name, "difference_p"), 2 * pt(-abs(d / e), fit$df.residual))
    say(paste("adjusted", name, "difference_low"), d - qt(.975, fit$df.residual) * e)
    say(paste("adjusted", name, "explained"),
        apply(pairs, 2, function(p) coef(bare)[p[1]] - coef(bare)[p[2]]) - d)
    say(paste("adjusted", name, "overall"), wald(fit, v, differences(k + m, 1:k)))
    say(paste("adjusted", name, "spreads"), spreads(y - drop(x %*% coef(fit)[k + 1:m]), g))
    own <- lm(y ~ 0 + g + g:x)
    w <- hc3(own)
    # the slopes of one covariate stand together, a batch after the other
    for (j in 1:m) {
        at <- k + seq_len(k) + (j - 1) * k
        say(paste("adjusted", name, "same", j - 1), wald(own, w, differences(length(coef(own)), at)))
    }
}

one("morley", 299.0 + morley$Speed / 1000)
one("rivers", rivers)
one("casein", chickwts$weight[chickwts$feed == "casein"])
one("meatmeal", chickwts$weight[chickwts$feed == "meatmeal"])

two("sleep", sleep$extra[sleep$group == 1], sleep$extra[sleep$group == 2])
two("ToothGrowth", ToothGrowth$len[ToothGrowth$supp == "OJ"], ToothGrowth$len[ToothGrowth$supp == "VC"])
two("chickwts", chickwts$weight[chickwts$feed == "casein"], chickwts$weight[chickwts$feed == "horsebean"])
two("InsectSprays", InsectSprays$count[InsectSprays$spray == "A"], InsectSprays$count[InsectSprays$spray == "C"])

many("InsectSprays", InsectSprays$count, InsectSprays$spray)
many("PlantGrowth", PlantGrowth$weight, PlantGrowth$group)
many("chickwts", chickwts$weight, chickwts$feed)
many("morley", morley$Speed, morley$Expt)

air <- airquality[complete.cases(airquality), ]
adjusted("airquality", air$Ozone, air$Month, air[c("Temp", "Wind")])
adjusted("iris", iris$Petal.Width, iris$Species, iris["Petal.Length"])
adjusted("mtcars", mtcars$mpg, mtcars$cyl, mtcars[c("wt", "qsec")])

for (n in c(3, 8, 12, 30, 64)) for (d in c(0, .3, .8, 2)) for (alpha in c(.05, .005))
    say("power", n, d, alpha, power.t.test(n, d, sig.level = alpha, strict = TRUE)$power)
for (d in c(.3, .5, .8, 1.4))
    say("need", d, power.t.test(delta = d, power = .8, strict = TRUE)$n)
for (n in c(6, 12, 40))
    say("detectable", n, power.t.test(n, power = .8, strict = TRUE, tol = 1e-10)$delta)
