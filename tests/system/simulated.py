"""A garden of twenty sensors over any time, and the books of what its store must hold.

The Hochfeld garden's five places have four sensors each; every sensor sends each minute, at
a second of its own, and some messages carry two or three channels. A seeded generator
sprinkles faults over that: sensors that fall silent, stand still, spike, tell nonsense, say
things twice or in another order, or send what they kept for a day all at once. What of all
that the store is to hold, and what it is to doubt or only to count, is written down as it is
sent: `Books`.
"""
import array
import collections
import datetime
import math
import random

import publishing

DAY = 1440  # minutes
BEGIN = int(datetime.datetime(2024, 4, 1, tzinfo=datetime.timezone.utc).timestamp())
PLACES = ['glasshouse', 'north-frame', 'south-frame', 'pea-bed', 'yard']
KINDS = ['greenhouse', 'frame', 'frame', 'bed', 'outdoors']
CHANNELS = {'climate': ['temperature', 'humidity'], 'soil': ['soil_temperature'],
            'moisture': ['soil_moisture'], 'light': ['light']}
# daemon/base/doubt.h
RANGE, POWER_ON, NOT_CONNECTED, JUMP, STUCK, SAME_SECOND = 1, 2, 3, 4, 5, 6
REPEAT, UNREADABLE = 11, 14
NONSENSE = [b'', b'{', b'nan', b'{"time":"2024-04-01T00:00:00Z"}', b'\x00\xff\xfe\x80',
            b'{"temperature":{"temperature":[]}}', b'\x1b[2J ~~~ ' * 40]


def garden_text(folder, address, commit_every='1 s', gardens=1, spool=None):
    """Settings; with more `gardens` than one each place and sensor is there so often."""
    text = f'''[garden]
name = "Hochfeld school garden"
latitude = 48.41
longitude = 9.52
time_zone = "Europe/Berlin"
[broker]
address = "{address}"
listen = ["garden/#"]
[store]
file = "{folder}/garden.db"
spool = "{spool or folder / 'spool'}"
commit_every = "{commit_every}"
'''
    for place, kind in zip(places(gardens), KINDS * gardens):
        text += (f'[[place]]\nid = "{place}"\nname = "{place}"\nkind = "{kind}"\n'
                 'keep_above = 1.0\nfleece_layers = 2\n')
        for what in CHANNELS:
            text += (f'[[sensor]]\nid = "{place}-{what}"\nplace = "{place}"\n'
                     f'topic = "garden/{place}/{what}"\nformat = "json"\n')
    return text


def places(gardens):
    return PLACES + [f'{place}-{number}' for number in range(2, gardens + 1)
                     for place in PLACES]


class Books:
    """What was sent, as the store is to hold it."""

    def __init__(self):
        self.readings = collections.defaultdict(lambda: array.array('q'))  # by series
        self.doubtful = collections.Counter()  # (sensor, channel, second, doubt)
        self.tallies = collections.Counter()   # (sensor, doubt): at least so many
        self.covers = collections.Counter()    # place
        self.waterings = collections.Counter()

    def count(self):
        return sum(map(len, self.readings.values()))


def entry(second, milli):
    """A reading as one number, in order of time."""
    return second << 28 | milli + (1 << 27)


def reading(number):
    return number >> 28, (number & (1 << 28) - 1) - (1 << 27)


class Sensor:
    def __init__(self, number, place, what):
        self.number = number
        self.place = place
        self.what = what
        self.id = f'{place}-{what}'
        self.topic = publishing.text(f'garden/{place}/{what}')
        self.channels = CHANNELS[what]
        self.second = 2 * number % 60  # of each minute
        self.offset = 37 * number      # into the ripples
        self.warmer = 40 * (number // 4 % 5)
        self.fault = None              # under way


class Weather:
    """Hundredths of each unit by the minute: seasons, days and passing weather."""

    def __init__(self, chance):
        self.fine = [chance.randint(-3, 3) for _ in range(1009)]
        self.coarse = [chance.choice((-20, -10, 0, 10, 20)) for _ in range(997)]
        self.day = [math.sin((minute / DAY - 0.37) * 2 * math.pi) for minute in range(DAY)]

    def of_minute(self, minute):
        season = math.sin(minute / (365 * DAY) * 2 * math.pi)
        passing = math.sin(minute / 8_940) + 0.6 * math.sin(minute / 13_980 + 2)
        day = self.day[minute % DAY]
        air = 900 + 900 * season + 250 * passing + 600 * day
        sun = max(0.0, day)
        return air, sun, 1000 + 700 * season + 60 * passing + 80 * day, 3500 + 400 * passing

    def values(self, sensor, minute, now):
        air, sun, soil, moisture = now
        fine = self.fine[(minute + sensor.offset) % 1009]
        if sensor.what == 'climate':
            coarse = self.coarse[(minute * 3 + sensor.offset) % 997]
            air = int(air + sensor.warmer * (1 + sun * 3)) + fine
            return [air, int((7200 - air) * 0.09) * 10 + coarse + 1200]
        if sensor.what == 'soil':
            return [int(soil + sensor.warmer) + fine // 2]
        coarse = self.coarse[(minute * 5 + sensor.offset) % 997]
        if sensor.what == 'moisture':
            return [int(moisture / 10 + sensor.warmer) * 10 + coarse]
        return [int(sun * (300 + coarse) * 100) * 100]


class Fault:
    def __init__(self, kind, begin, end):
        self.kind = kind
        self.begin = begin
        self.end = end  # not of it
        self.kept = []  # to be sent in the end
        self.value = None


# Kind: its shortest and longest time in minutes, and the sensors that may have it.
FAULTS = {'silent': (120, 720, None), 'kept for a day': (DAY, DAY, None),
          'kept for hours': (90, 400, None), 'in another order': (10, 30, None),
          'stuck': (300, 300, ['climate']), 'spike': (1, 1, ['climate', 'soil']),
          'impossible': (1, 1, ['climate', 'soil']), 'nonsense': (1, 1, None),
          'twice': (1, 1, None), 'another value': (1, 1, None), 'retained': (1, 1, None),
          'said long ago': (30, 30, None)}
APART = 300  # minutes, from one fault of a sensor to its next
MORNING = 6 * 60  # UTC: when the air of other places moves soonest


class Stream:
    """Sends minute after minute to `publisher`, and writes `books`."""

    def __init__(self, publisher, books, days, seed, faults=True, gardens=1, every=1):
        self.publisher = publisher
        self.books = books
        self.chance = random.Random(seed)
        self.weather = Weather(self.chance)
        self.end = days * DAY
        self.every = every  # minutes between two readings
        self.minute = 0
        self.stranger = publishing.text('garden/compost/heap')
        self.sensors = [Sensor(number, place, what) for number, (place, what) in enumerate(
            (place, what) for place in places(gardens) for what in CHANNELS)]
        self.begins = collections.defaultdict(list)  # minute: (sensor, fault)
        self.sprinkled = collections.Counter()
        if faults:
            for sensor in self.sensors:
                self.sprinkle(sensor)

    def sprinkle(self, sensor):
        minute = self.chance.randint(DAY // 2, 3 * DAY)
        while True:
            kind = self.chance.choice([
                kind for kind, (*_, whose) in FAULTS.items()
                if whose is None or sensor.what in whose])
            shortest, longest, _ = FAULTS[kind]
            if kind == 'stuck':
                minute += (MORNING - minute) % DAY
            minute += -minute % self.every
            fault = Fault(kind, minute, minute + self.chance.randint(shortest, longest))
            if fault.end + APART >= self.end:
                return
            self.begins[minute].append((sensor, fault))
            self.sprinkled[kind] += 1
            minute = fault.end + APART + self.chance.randint(0, 4 * DAY)

    def send_until(self, end):
        values, say = self.weather.values, self.say
        readings = [self.books.readings[sensor.id, channel]
                    for sensor in self.sensors for channel in sensor.channels]
        while self.minute < min(end, self.end):
            minute = self.minute
            now = self.weather.of_minute(minute)
            second = BEGIN + 60 * minute
            stamp = iso(second)[:17]
            for sensor, fault in self.begins.pop(minute, ()):
                sensor.fault = fault
            number = 0
            for sensor in self.sensors:
                what = values(sensor, minute, now)
                if sensor.fault is not None:
                    self.at_fault(sensor, minute, what)
                else:
                    say(sensor, stamp, what)
                    for value in what:
                        readings[number].append(
                            second + sensor.second << 28 | value * 10 + 134217728)
                        number += 1
                    continue
                number += len(what)
            self.minute += self.every
        self.publisher.flush()

    # --- what a message is

    def say(self, sensor, stamp, values, retained=False):
        self.publisher.publish(sensor.topic, payload(sensor, stamp, values),
                               retained=retained)

    def say_at(self, sensor, minute, values, **options):
        self.say(sensor, iso(BEGIN + 60 * minute)[:17], values, **options)

    def believe(self, sensor, minute, values):
        second = BEGIN + 60 * minute + sensor.second
        for channel, value in zip(sensor.channels, values):
            self.books.readings[sensor.id, channel].append(entry(second, value * 10))

    def doubt(self, sensor, channel, minute, doubt):
        second = BEGIN + 60 * minute + sensor.second
        self.books.doubtful[sensor.id, channel, second, doubt] += 1

    # --- what goes wrong

    def at_fault(self, sensor, minute, values):
        fault = sensor.fault
        if minute >= fault.end:
            sensor.fault = None
            self.end_fault(sensor, fault)
            self.say_at(sensor, minute, values)
            return self.believe(sensor, minute, values)
        if fault.kind == 'silent':
            return None
        if fault.kind.startswith('kept') or fault.kind == 'in another order':
            fault.kept.append((minute, values))
            return self.believe(sensor, minute, values)
        return getattr(self, fault.kind.replace(' ', '_'))(sensor, minute, values)

    def end_fault(self, sensor, fault):
        if fault.kind == 'in another order':
            self.chance.shuffle(fault.kept)
        for minute, values in fault.kept:
            self.say_at(sensor, minute, values)

    def stuck(self, sensor, minute, values):
        fault = sensor.fault
        if minute == fault.begin:
            # Told from what it said before.
            values[0] += 15
            fault.value = values[0]
            self.say_at(sensor, minute, values)
            return self.believe(sensor, minute, values)
        self.say_at(sensor, minute, [fault.value, values[1]])
        self.doubt(sensor, 'temperature', minute, STUCK)
        second = BEGIN + 60 * minute + sensor.second
        self.books.readings[sensor.id, 'humidity'].append(entry(second, values[1] * 10))

    def spike(self, sensor, minute, values):
        self.one_wrong(sensor, minute, values, values[0] + 2500, JUMP)

    def impossible(self, sensor, minute, values):
        value, doubt = self.chance.choice(
            [(8500, POWER_ON), (-12700, NOT_CONNECTED), (9999, RANGE), (-8000, RANGE)])
        self.one_wrong(sensor, minute, values, value, doubt)

    def one_wrong(self, sensor, minute, values, value, doubt):
        self.say_at(sensor, minute, [value, *values[1:]])
        self.doubt(sensor, sensor.channels[0], minute, doubt)
        second = BEGIN + 60 * minute + sensor.second
        for channel, right in list(zip(sensor.channels, values))[1:]:
            self.books.readings[sensor.id, channel].append(entry(second, right * 10))

    def nonsense(self, sensor, minute, values):
        for data in self.chance.sample(NONSENSE, 3):
            self.publisher.publish(sensor.topic, data)
            self.books.tallies[sensor.id, UNREADABLE] += 1
        self.publisher.publish(self.stranger, b'{"temperature":41}')
        self.say_at(sensor, minute, values)
        self.believe(sensor, minute, values)

    def twice(self, sensor, minute, values):
        self.say_at(sensor, minute, values)
        self.say_at(sensor, minute, values)
        self.books.tallies[sensor.id, REPEAT] += len(values)
        self.believe(sensor, minute, values)

    def another_value(self, sensor, minute, values):
        self.say_at(sensor, minute, values)
        self.say_at(sensor, minute, [value + 50 for value in values])
        for channel in sensor.channels:
            self.doubt(sensor, channel, minute, SAME_SECOND)
        self.believe(sensor, minute, values)

    def retained(self, sensor, minute, values):
        self.say_at(sensor, minute, values, retained=True)
        self.believe(sensor, minute, values)

    def said_long_ago(self, sensor, minute, values):
        """Goes on as ever, and in the first minute says again what it said the day before
        last; where it was at fault then, that is not known to be right."""
        self.say_at(sensor, minute, values)
        self.believe(sensor, minute, values)
        if minute != sensor.fault.begin:
            return
        known = [set(self.books.readings[sensor.id, channel][-3 * DAY // self.every:])
                 for channel in sensor.channels]
        for old in range(minute - 2 * DAY, minute - 2 * DAY + 30, self.every):
            said = self.weather.values(sensor, old, self.weather.of_minute(old))
            second = BEGIN + 60 * old + sensor.second
            if all(entry(second, value * 10) in one for value, one in zip(said, known)):
                self.say_at(sensor, old, said)
                self.books.tallies[sensor.id, REPEAT] += len(said)


def iso(second):
    at = datetime.datetime.fromtimestamp(second, datetime.timezone.utc)
    return at.strftime('%Y-%m-%dT%H:%M:%SZ')


def payload(sensor, stamp, values):
    """`stamp` is the time as far as its minute."""
    if len(values) == 2:
        return (f'{{"time":"{stamp}{sensor.second:02d}Z","temperature":{values[0] / 100:.2f},'
                f'"humidity":{values[1] / 100:.1f}}}').encode()
    return (f'{{"time":"{stamp}{sensor.second:02d}Z","{sensor.channels[0]}":'
            f'{values[0] / 100:.2f}}}').encode()
