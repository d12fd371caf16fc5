package main

import (
	"cmp"
	"flag"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// setting is a value that comes from a flag, else from the environment, else is
// the usual one. Errors name it both ways.
type setting struct {
	flag, env, usual, help string
	value                  *string
}

var (
	dbSetting       = setting{flag: "db", env: "RIBDESK_DB", usual: "ribdesk.db", help: "a file, or a postgres:// URL"}
	addrSetting     = setting{flag: "addr", env: "RIBDESK_ADDR", usual: "127.0.0.1:8080", help: "where to listen, host:port"}
	baseSetting     = setting{flag: "base-url", env: "RIBDESK_BASE_URL", help: "where people reach it, for links on papers; https:// turns secure cookies on"}
	proxySetting    = setting{flag: "trusted-proxies", env: "RIBDESK_TRUSTED_PROXIES", help: "addresses or networks of proxies, separated by commas, whose X-Forwarded-For is believed"}
	busySetting     = setting{flag: "max-in-flight", env: "RIBDESK_MAX_IN_FLIGHT", usual: "64", help: "requests worked on at once"}
	levelSetting    = setting{flag: "log-level", env: "RIBDESK_LOG_LEVEL", usual: "info", help: "debug, info, warn or error"}
	metricsSetting  = setting{flag: "metrics-addr", env: "RIBDESK_METRICS_ADDR", help: "where to serve /metrics, host:port; only the shop's own machines should reach it; nowhere when empty"}
	slowSetting     = setting{flag: "slow-query", env: "RIBDESK_SLOW_QUERY", usual: "200ms", help: "statements that take longer are logged; 0 logs none"}
	mailHostSetting = setting{flag: "mail-host", env: "RIBDESK_MAIL_HOST", help: "mail server that takes mails to customers; mail is off when empty"}
	mailPortSetting = setting{flag: "mail-port", env: "RIBDESK_MAIL_PORT", usual: "587", help: "its port"}
	mailTLSSetting  = setting{flag: "mail-tls", env: "RIBDESK_MAIL_TLS", usual: "starttls", help: "starttls, tls from the first byte, or none"}
	mailFromSetting = setting{flag: "mail-from", env: "RIBDESK_MAIL_FROM", help: "address that mails come from"}
	mailUserSetting = setting{flag: "mail-user", env: "RIBDESK_MAIL_USER", help: "who signs in there, with the password in " + mailPasswordKey + "; nobody when empty"}
	devSetting      = setting{flag: "dev", env: "RIBDESK_DEV", help: "folder of the source: pages and styles are read from it at each request"}
)

// What is in the environment alone, since others on the machine can read a
// command line: the mail server's password, and that of 'ribdesk person'.
const (
	mailPasswordKey = "RIBDESK_MAIL_PASSWORD"
	passwordKey     = "RIBDESK_PASSWORD"
)

// settings are all that there are.
var settings = []setting{dbSetting, addrSetting, baseSetting, proxySetting, busySetting, levelSetting, metricsSetting, slowSetting,
	mailHostSetting, mailPortSetting, mailTLSSetting, mailFromSetting, mailUserSetting, devSetting}

// knownSettings refuses a variable that looks like a setting and is none: a slip
// in its name would otherwise leave the usual value in place unsaid.
func knownSettings(names []string) error {
	known := map[string]bool{mailPasswordKey: true, passwordKey: true}
	for _, s := range settings {
		known[s.env] = true
	}
	for _, name := range names {
		if strings.HasPrefix(name, "RIBDESK_") && !known[name] {
			return fmt.Errorf("%s: there is no such setting; 'ribdesk help serve' lists them", name)
		}
	}
	return nil
}

// on adds the setting's flag to a command.
func (s setting) on(fs *flag.FlagSet, getenv func(string) string) setting {
	s.value = fs.String(s.flag, cmp.Or(getenv(s.env), s.usual), s.help)
	return s
}

// wrong refuses the setting's value.
func (s setting) wrong(format string, args ...any) error {
	return fmt.Errorf("%s (--%s): %w", s.env, s.flag, fmt.Errorf(format, args...))
}

// listSettings gives the lines of a command's help.
func listSettings(settings ...setting) string {
	var b strings.Builder
	for _, s := range settings {
		fmt.Fprintf(&b, "  --%-16s %-24s %s", s.flag, s.env, s.help)
		if s.usual != "" {
			fmt.Fprintf(&b, " (%s)", s.usual)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// address checks host:port.
func (s setting) address() (string, error) {
	_, port, err := net.SplitHostPort(*s.value)
	if err != nil {
		return "", s.wrong("%q isn't host:port, such as 127.0.0.1:8080", *s.value)
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return "", s.wrong("%q has no port from 0 to 65535", *s.value)
	}
	return *s.value, nil
}

// baseURL checks http(s)://host[:port]; "" gives the usual one.
func (s setting) baseURL(usual string) (string, error) {
	if *s.value == "" {
		return usual, nil
	}
	u, err := url.Parse(*s.value)
	if err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.User != nil {
		return "", s.wrong("%q isn't http://host or https://host", *s.value)
	}
	return u.Scheme + "://" + u.Host, nil
}

// networks checks a list of addresses and networks.
func (s setting) networks() ([]string, error) {
	var list []string
	for one := range strings.SplitSeq(*s.value, ",") {
		one = strings.TrimSpace(one)
		if one == "" {
			continue
		}
		_, err := netip.ParseAddr(one)
		if _, err2 := netip.ParsePrefix(one); err != nil && err2 != nil {
			return nil, s.wrong("%q is neither an address nor a network such as 10.0.0.0/8", one)
		}
		list = append(list, one)
	}
	return list, nil
}

func (s setting) count() (int, error) {
	n, err := strconv.Atoi(*s.value)
	if err != nil || n < 1 {
		return 0, s.wrong("%q isn't a number of 1 or more", *s.value)
	}
	return n, nil
}

// span checks a length of time.
func (s setting) span() (time.Duration, error) {
	d, err := time.ParseDuration(*s.value)
	if err != nil && *s.value != "0" || d < 0 {
		return 0, s.wrong("%q isn't a time such as 200ms", *s.value)
	}
	return d, nil
}

func (s setting) level() (l slog.Level, err error) {
	if err := l.UnmarshalText([]byte(*s.value)); err != nil {
		return l, s.wrong("%q isn't debug, info, warn or error", *s.value)
	}
	return l, nil
}

// logger writes JSON lines with times in UTC.
func logger(e env, level slog.Level) *slog.Logger {
	return slog.New(slog.NewJSONHandler(e.stdout, &slog.HandlerOptions{Level: level, ReplaceAttr: func(groups []string, a slog.Attr) slog.Attr {
		if a.Key == slog.TimeKey && len(groups) == 0 {
			a.Value = slog.StringValue(a.Value.Time().UTC().Format(time.RFC3339Nano))
		}
		return a
	}}))
}
