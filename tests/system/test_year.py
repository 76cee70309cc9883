#!/usr/bin/env python3
"""Years of real weather through a real broker into the running daemon: what `rimeward
season` says of every station and year equals what is reckoned here, from the files alone
and from the definitions: lows and highs by the maximum-minimum thermometer read at 09:00,
frost nights, last and first frost, hours of frost, chill hours and degree days.

Readings that the daemon did not believe are left out on both sides; there must be few.
"""
import collections
import csv
import datetime
import json
import zoneinfo

import support

DAY = datetime.timedelta(days=1)
NEAR_SUMMER = 30 * DAY
BRIDGED = 6  # hours in a row
CHILL_UP_TO = 7200
BASES = {'degree_days_above_5_celsius': 5000, 'degree_days_above_10_celsius': 10000}

# Time zone, position, and the files of the places.
GARDENS = [
    ('Europe/Dublin', (53.3, -6.9), ['ie_oak_park', 'ie_dunsany', 'ie_markree',
                                     'ie_casement']),
    ('America/New_York', (40.66, -74.0), ['nyc_jfk', 'nyc_ewr']),
    ('Asia/Seoul', (37.571, 126.966), ['seoul']),
    ('Asia/Shanghai', (40.36, 116.63), ['bj_huairou']),
    ('Europe/Brussels', (50.47, 4.45), ['belgium_t6']),
]


def divided(dividend, divisor):
    """Rounded half away from zero, in whole numbers."""
    size = (abs(dividend) * 2 + divisor) // (2 * divisor)
    return size if dividend >= 0 else -size


class Station:
    """What a list of (unix seconds, thousandths of a degree) comes to."""

    def __init__(self, readings, zone_name, now):
        self.zone = zoneinfo.ZoneInfo(zone_name)
        self.now = now
        self.today = self.local(now).date()
        self.lows, self.highs = {}, {}
        by_hour = collections.defaultdict(list)
        for time, value in sorted(readings):
            local = self.local(time)
            began = local.date() - DAY if local.hour < 9 else local.date()
            self.lows[began + DAY] = min(value, self.lows.get(began + DAY, value))
            self.highs[began] = max(value, self.highs.get(began, value))
            by_hour[time // 3600].append(value)
        self.measured = set(by_hour)
        self.means = {hour: divided(sum(values), len(values))
                      for hour, values in by_hour.items()}
        self.bridge()

    def bridge(self):
        hours = sorted(self.means)
        for one, other in zip(hours, hours[1:]):
            if other - one > BRIDGED + 1:
                continue
            rise = self.means[other] - self.means[one]
            for hour in range(one + 1, other):
                self.means[hour] = self.means[one] + divided(rise * (hour - one), other - one)

    def local(self, time):
        return datetime.datetime.fromtimestamp(time, self.zone)

    def seconds(self, date, clock=datetime.time()):
        return int(datetime.datetime.combine(date, clock, self.zone).timestamp())

    def hours(self, begin, end):
        """UTC clock hours that begin within [begin, end)."""
        return range(-(-begin // 3600), -(-end // 3600))

    def is_frost(self, night):
        return self.lows.get(night, 0) < 0

    def coverage(self, night):
        """Of a night's climatological day: complete, part or missing."""
        nine = datetime.time(9)
        begin, end = self.seconds(night - DAY, nine), self.seconds(night, nine)
        if self.is_frost(night) or end > self.now:
            return 'complete'
        hours = self.hours(begin, end)
        held = ''.join('x' if hour in self.measured else ' ' for hour in hours)
        if held.count('x') * 2 < len(hours):
            return 'missing'
        gaps = held.split('x')
        return 'part' if held.count(' ') > 4 or max(map(len, gaps)) > 3 else 'complete'

    def sums(self, begin, end, last_night):
        means = [self.means[hour] for hour in self.hours(begin, end) if hour in self.means]
        first_night = self.local(begin).date()
        return {
            'frost_nights': sum(self.is_frost(night) for night in self.lows
                                if first_night <= night <= last_night),
            'frost_hours': sum(mean < 0 for mean in means),
            **{name: sum(max(0, mean - base) for mean in means) / 24000
               for name, base in BASES.items()}}

    def until(self, end):
        """The hour under way counts as far as it has come."""
        return min(end, self.now // 3600 * 3600 + 3600)

    def missing(self, begin, end):
        return sum(hour not in self.means and (hour + 1) * 3600 <= self.now
                   for hour in self.hours(begin, end))

    def chill(self, year):
        begin = self.seconds(datetime.date(year - 1, 11, 1))
        end = self.until(self.seconds(datetime.date(year, 3, 1)))
        known = [self.means[hour] for hour in self.hours(begin, end) if hour in self.means]
        if not known:
            return None
        return {'hours': sum(0 <= mean <= CHILL_UP_TO for mean in known),
                'hours_missing': self.missing(begin, end)}

    def frost(self, night, first, last):
        """A last or first frost, and whether the nights from first to last are known."""
        if night is None:
            return None
        nights = [first + n * DAY for n in range((min(last, self.today) - first).days + 1)]
        sure = all(self.coverage(one) == 'complete' for one in nights)
        return {'date': night.isoformat(), 'is_sure': sure}

    def season(self, place, year):
        begins, midsummer, ends = (datetime.date(year, 1, 1), datetime.date(year, 7, 1),
                                   datetime.date(year + 1, 1, 1))
        nights = [begins + n * DAY for n in range((min(ends, self.today + DAY) - begins).days)]
        frosts = [night for night in nights if self.is_frost(night)]
        last = max((night for night in frosts if night < midsummer), default=None)
        first = min((night for night in frosts if night >= midsummer), default=None)
        begin, end = self.seconds(begins), self.until(self.seconds(ends))
        lows = [(self.lows[night], night) for night in nights if night in self.lows]
        highs = [(-high, day) for day, high in self.highs.items() if begins <= day < ends]
        coverages = [self.coverage(night) for night in nights]
        under_way = year == self.today.year
        by_today = None
        if not under_way:
            clock = self.local(self.now).time().replace(second=0)
            same_date = self.today.replace(year=year)
            by_today = self.sums(begin, self.seconds(same_date, clock), same_date)
        return {
            'place': place, 'season': str(year), 'begins': begins.isoformat(),
            'ends': (ends - DAY).isoformat(), 'is_under_way': under_way,
            **self.sums(begin, end, min(ends - DAY, self.today)),
            'by_today': by_today,
            'last_frost_of_spring': self.frost(
                last, last, min(midsummer, last + NEAR_SUMMER)) if last else None,
            'first_frost_of_autumn': self.frost(
                first, max(midsummer, first - NEAR_SUMMER), first) if first else None,
            'coldest_night': dated(min(lows, default=None), 1),
            'warmest_day': dated(min(highs, default=None), -1),
            'chill': self.chill(year),
            'nights_in_part': coverages.count('part'),
            'nights_missing': coverages.count('missing'),
            'hours_missing': self.missing(begin, end)}

    def seasons(self, place):
        years = {self.local(hour * 3600).year for hour in self.measured}
        return [self.season(place, year) for year in sorted(years, reverse=True)]


def dated(extreme, sign):
    if extreme is None:
        return None
    return {'date': extreme[1].isoformat(), 'temperature_celsius': sign * extreme[0] / 1000}


def rounded(season):
    """Degree days as they are shown, to the thousandth; what is not reckoned here is out."""
    season = {key: rounded(value) if isinstance(value, dict) else value
              for key, value in season.items() if key != 'coming_chill'}
    # Halves of a thousandth may go either way.
    return {key: f'{value + 1e-9:.3f}' if key in BASES else value
            for key, value in season.items()}


def temperatures(file):
    with open(file) as stream:
        return [(support.unix_seconds(row['time']), support.thousandths(row['temperature']),
                 row['time'], row['temperature'])
                for row in csv.DictReader(stream) if row['temperature'] not in ('', 'nan')]


def write_parts(folder, by_place):
    """The places' readings in order of time, as recorded files; and how many are in each."""
    rows = sorted((time, place, text, value) for place, readings in by_place.items()
                  for time, _, text, value in readings)
    # A topic that says more than 20,000 things at once is taken for a flood.
    size = 15_000 * len(by_place)
    parts = []
    for begin in range(0, len(rows), size):
        file = folder / f'part-{begin}.csv'
        part = rows[begin:begin + size]
        with open(file, 'w') as stream:
            stream.write('time,place,temperature\n')
            stream.writelines(f'{text},{place},{value}\n' for _, place, text, value in part)
        parts.append((file, len(part)))
    return parts


def write_garden(folder, broker, zone, position, places):
    file = folder / 'garden.toml'
    file.write_text(f'''
[garden]
name = "Test garden"
latitude = {position[0]}
longitude = {position[1]}
time_zone = "{zone}"
[broker]
address = "{broker.address}"
listen = ["garden/#"]
[store]
file = "{folder}/garden.db"
spool = "{folder}/spool"
commit_every = "1 s"
''' + ''.join(f'''
[[place]]
id = "{place}"
name = "{place}"
kind = "outdoors"
[[sensor]]
id = "{place}-probe"
place = "{place}"
topic = "garden/{place}/climate"
format = "json"
''' for place in places))
    return file


def stored_count(store):
    return support.reading_count(store) + support.rows(
        store, 'SELECT count(*) FROM doubtful')[0][0]


def not_believed(store):
    """As {(place, time)}."""
    return set(support.rows(store, 'SELECT series.place, time FROM doubtful '
                                   'JOIN series ON series.id = doubtful.series'))


def play(programs, broker, daemon, file):
    said = 'connected'
    before = daemon.log().count(said) if daemon.log_file.exists() else 0
    daemon.start()
    daemon.wait_for(said, count=before + 1)
    support.run(programs / 'rimeward-play', '--broker', broker.address, '--recorded', file,
                '--topic', 'garden/{place}/climate')


def run_garden(programs, data, zone, position, files):
    by_place = {name.replace('_', '-'): temperatures(data / f'{name}.csv')
                for name in files}
    with support.scratch() as (folder, started):
        broker = support.Broker(folder)
        started.append(broker)
        broker.start()
        config = write_garden(folder, broker, zone, position, by_place)
        store = folder / 'garden.db'
        daemon = support.Daemon(programs, config, '--clock', 'readings')
        started.append(daemon)
        sent = 0
        for part, count in write_parts(folder, by_place):
            sent += count
            play(programs, broker, daemon, part)
            support.wait_until(lambda: stored_count(store) >= sent,
                               f'{sent} readings stored', patience=120)
            daemon.stop()

        doubted = not_believed(store)
        support.check(len(doubted) * 200 <= sent, f'{len(doubted)} of {sent} not believed')
        answer = json.loads(support.run(programs / 'rimeward', '--config', config, 'season',
                                        '--json'))
        now = support.unix_seconds(answer['now'])
        expected = []
        for place, readings in by_place.items():
            believed = [(time, value) for time, value, *_ in readings
                        if (place, time) not in doubted]
            expected += Station(believed, zone, now).seasons(place)
        support.equal([rounded(one) for one in answer['seasons']],
                      [rounded(one) for one in expected], f'the seasons in {zone}')
        support.check(any(one['last_frost_of_spring'] for one in expected), 'a frost')
        print(f'{zone}: {sent} readings, {len(doubted)} not believed, '
              f'{len(expected)} seasons of places')


def main():
    programs = support.arguments().programs
    shared = support.shared_folder()
    if not shared:
        support.skip('no folder of real weather here')
    for garden in GARDENS:
        run_garden(programs, shared / 'data', *garden)


if __name__ == '__main__':
    main()
